package crop

func leafy() []Crop {
	return []Crop{lettuce(), spinach(), basil(), strawberry(), seedlings()}
}

func lettuce() Crop {
	hot := leafScorch("leaves wilt and scorch within hours")
	limits := Limits{
		LowLow: celsius(-2, extension, Memory, "a hardened plant stands -2 to -4 °C; the upper end is taken"),
		Low:    celsius(0, practice, Practice, "frost in the house: soft leaves are marked, and water freezes"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "lettuce", Plain: "lettuce", Day: limits, Night: limits,
		Advice: append(leaves(), atLeast(byDay, celsius(4, training, Seen, "growth of cool crops stops at or below")))}
}

func spinach() Crop {
	hot := leafScorch("leaves wilt and scorch within hours")
	limits := Limits{
		LowLow: celsius(-6, extension, Memory, "a hardened plant stands -6 to -9 °C; the upper end is taken"),
		Low:    celsius(-2, practice, Practice, "leaves freeze hard; a plant that has not been hardened suffers"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "spinach", Plain: "spinach", Day: limits, Night: limits,
		Advice: append(leaves(),
			atLeast(byDay, celsius(4, training, Seen, "growth of cool crops stops at or below; the plant rests unhurt")),
			atMost(byDay, celsius(24, extension, Memory, "seed no longer germinates; of the seed alone, so mind it when you sow")))}
}

func basil() Crop {
	cold := celsius(7.8, newEngland, Seen, "cut leaves may be stored no colder; basil is in the class most sensitive to chilling")
	hot := leafScorch("leaves wilt and scorch within hours")
	limits := Limits{LowLow: cold, High: warns(hot), HighHigh: hot}
	return Crop{Name: "basil", Plain: "basil", Day: limits, Night: limits,
		Advice: append(leaves(),
			atLeast(byDay, celsius(11, extension, Memory, "development stops")),
			atMost(byDay, celsius(35, remembered, Memory, "growth falls off above the best range of 24 to 29 °C; wilting begins")),
			atMost(byNight, celsius(30, remembered, Memory, "plants grow thin in hot nights")))}
}

func strawberry() Crop {
	hot := leafScorch("leaves and flowers wilt and scorch within hours")
	limits := Limits{
		LowLow: celsius(-0.6, extension, Memory, "open blossom is killed within minutes at -0.6 to -1.1 °C; the upper end is taken"),
		Low:    celsius(1.5, practice, Practice, "2 K of warning before open blossom is killed, rounded"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "strawberry", Plain: "strawberry", Day: limits, Night: limits,
		Advice: append(leaves(),
			atLeast(byDay, celsius(4, training, Seen, "growth of cool crops stops at or below")),
			atMost(byNight, celsius(24, remembered, Memory, "above the best day range of 18 to 24 °C nights stop flowering")))}
}

func seedlings() Crop {
	hot := celsius(38, remembered, Memory, "young plants in small cells dry out and die within hours")
	limits := Limits{
		LowLow: celsius(4, training, Seen, "growth even of crops of middling need stops at 4 to 7 °C; young tender plants are hurt"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "seedlings", Plain: "seedlings", Day: limits, Night: limits,
		Advice: append(leaves(),
			atMost(ofAir, percent(85, extension, Memory, "damping-off and moulds gain if this lasts")),
			atLeast(byDay, celsius(12, remembered, Memory, "tender seedlings are checked; best air after emergence is 16 to 21 °C")),
			atMost(byDay, celsius(30, remembered, Memory, "plants grow thin, and some seed no longer germinates")),
			atMost(byNight, celsius(27, remembered, Memory, "plants grow thin in hot nights")))}
}
