package crop

import "time"

// Sources, as cited by the figures.
const (
	usda       = "USDA table of lowest safe temperatures (chilling injury); reprints: Produce Degradation (2005) Table 20.5 and J. Food Quality 2018 art. 8517018 Table 1"
	utah       = "Utah State Univ. Extension, vegetable production guide, tomato-pepper-eggplant postharvest care"
	purdue     = "Purdue Extension, Vegetable Crops Hotline, high temperature effects on tomato fruit set"
	maryland   = "Univ. of Maryland Extension, vegetable newsletter, 2012"
	hydroponic = "Commercial hydroponics grower note, pepper and tomato climate"
	newEngland = "New England Vegetable Management Guide, Table 16 (adapted from USDA Handbook 66)"
	lsu        = "LSU AgCenter, Citrus and Freezing Temperatures"
	orchids    = "American Orchid Society Phalaenopsis culture-sheet text (public reproduction)"
	orchidBook = "General orchid culture practice (intermediate and cool groups)"
	cacti      = "Experienced grower's page on overwintering cacti and succulents"
	training   = "Horticultural training page on temperature requirements of greenhouse crops"
	umass      = "UMass Extension, Botrytis Blight of Greenhouse Crops"
	ukGrowers  = "UK growers' page, Botrytis the blight of greenhouse crops"
	ohio       = "Prenger & Ling, Ohio State Univ. Extension AEX-804-01 (2001), greenhouse condensation control: VPD"
	extension  = "General extension guidance"

	remembered = "From memory, no published figure at hand"
	practice   = "Common practice, no source"
)

func celsius(v float64, source string, m Mark, meaning string) Figure {
	return Figure{Value: v, Unit: Celsius, Meaning: meaning, Source: source, Mark: m}
}

func percent(v float64, source string, m Mark, after time.Duration, meaning string) Figure {
	return Figure{Value: v, Unit: Percent, Meaning: meaning, Source: source, Mark: m, After: after}
}

func kilopascal(v float64, source string, m Mark, after time.Duration, meaning string) Figure {
	return Figure{Value: v, Unit: Kilopascal, Meaning: meaning, Source: source, Mark: m, After: after}
}

// moulds are the humidity limits of crops that grey mould attacks: all of them.
func moulds() Limits {
	return Limits{
		High: percent(85, umass, Seen, 8*time.Hour, "grey mould germinates and infects when leaves stay wet for 8 to 12 h at this humidity or more and 13 to 24 °C; the first of two readings of the rule"),
		HighHigh: percent(93, ukGrowers, Seen, 8*time.Hour,
			"grey mould infects within 8 to 12 h at 12 to 24 °C; the stricter reading of the rule"),
	}
}

// leaves are the vapour pressure deficits of leafy and fruiting crops.
func leaves() Limits {
	return Limits{
		LowLow: kilopascal(0.20, ohio, Memory, 4*time.Hour, "infection by moulds does most damage below; the delay is common practice"),
		Low:    kilopascal(0.43, ohio, Memory, 8*time.Hour, "moulds survive best below; the delay is common practice"),
		High:   kilopascal(2.0, extension, Memory, 2*time.Hour, "leaves close their pores and may wilt above 1.6 to 2.0; the upper end is taken, the delay is common practice"),
	}
}

// scorched is where leaves of any kind die.
func scorched() Figure {
	return celsius(45, remembered, Memory, "tissue of most leaves dies within minutes to an hour at 45 to 50 °C; the lower end is taken")
}

// leafScorch is where soft crops are hurt although their leaves live.
func leafScorch(what string) Figure {
	return celsius(40, remembered, Memory, what)
}
