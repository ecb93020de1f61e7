package crop

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

func percent(v float64, source string, m Mark, meaning string) Figure {
	return Figure{Value: v, Unit: Percent, Meaning: meaning, Source: source, Mark: m}
}

func kilopascal(v float64, source string, m Mark, meaning string) Figure {
	return Figure{Value: v, Unit: Kilopascal, Meaning: meaning, Source: source, Mark: m}
}

// What advice is of.
const (
	byDay   = "temperature by day"
	byNight = "temperature by night"
	ofAir   = "humidity"
	ofVPD   = "vapour pressure deficit"
)

func atLeast(of string, f Figure) Advice { return Advice{Of: of, Figure: f} }
func atMost(of string, f Figure) Advice  { return Advice{Of: of, AtMost: true, Figure: f} }

// airing is the advice on damp air for every crop, since grey mould attacks all
// of them. The two sources of its rule disagree: see greyMould.
func airing() Advice {
	return atMost(ofAir, percent(85, umass, Seen, "grey mould germinates and infects when leaves stay wet for 8 to 12 h at this humidity or more and 13 to 24 °C; "+
		"the other source says 93 %, which is what is told of, because healthy houses pass 85 % every mild night"))
}

// leaves is the advice on the vapour pressure deficit of leafy and fruiting crops.
func leaves() []Advice {
	return []Advice{airing(),
		atLeast(ofVPD, kilopascal(0.20, ohio, Memory, "infection by moulds does most damage below; any mild night is as damp, so the hours of grey mould are told of instead")),
		atLeast(ofVPD, kilopascal(0.43, ohio, Memory, "moulds survive best below")),
		atMost(ofVPD, kilopascal(2.0, extension, Memory, "leaves close their pores and may wilt above 1.6 to 2.0, as on any sunny noon; the upper end is taken"))}
}

// warns is a high limit that is told 2 K before a high-high one.
func warns(of Figure) Figure {
	return celsius(of.Value-2, practice, Practice, "2 K of warning before the high-high limit: air it, shade it, see whether the fan runs")
}

// scorched is where leaves of any kind die.
func scorched() Figure {
	return celsius(45, remembered, Memory, "tissue of most leaves dies within minutes to an hour at 45 to 50 °C; the lower end is taken")
}

// leafScorch is where soft crops are hurt although their leaves live.
func leafScorch(what string) Figure {
	return celsius(40, remembered, Memory, what)
}
