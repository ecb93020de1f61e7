package crop

func leafy() []Crop {
	return []Crop{lettuce(), spinach(), basil(), strawberry(), seedlings()}
}

func lettuce() Crop {
	cold := celsius(-2, extension, Memory, "a hardened plant stands -2 to -4 °C; the upper end is taken")
	hot := celsius(35, remembered, Memory, "leaf edges burn and hearts rot within a day")
	return Crop{Name: "lettuce", Plain: "lettuce", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(4, training, Seen, "growth of cool crops stops at or below"),
			High:     celsius(27, extension, Memory, "days of this bring bolting and tip burn"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(0, practice, Practice, "frost in the house: soft leaves are marked, and water freezes"),
			High:     celsius(27, extension, Memory, "days of this bring bolting and tip burn; a night like it more so"),
			HighHigh: hot,
		},
	}
}

func spinach() Crop {
	cold := celsius(-6, extension, Memory, "a hardened plant stands -6 to -9 °C; the upper end is taken")
	hot := celsius(32, remembered, Memory, "plants bolt and leaves yellow within days")
	return Crop{Name: "spinach", Plain: "spinach", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(4, training, Seen, "growth of cool crops stops at or below; the plant rests unhurt"),
			High:     celsius(24, extension, Memory, "seed no longer germinates, and plants begin to bolt"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(-2, practice, Practice, "leaves freeze hard; a plant that has not been hardened suffers"),
			High:     celsius(24, extension, Memory, "seed no longer germinates, and plants begin to bolt"),
			HighHigh: hot,
		},
	}
}

func basil() Crop {
	cold := celsius(7.8, newEngland, Seen, "cut leaves may be stored no colder; basil is in the class most sensitive to chilling")
	hot := leafScorch("leaves wilt and scorch within hours")
	return Crop{Name: "basil", Plain: "basil", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(11, extension, Memory, "development stops"),
			High:     celsius(35, remembered, Memory, "growth falls off above the best range of 24 to 29 °C; wilting begins"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(10, extension, Memory, "leaves of growing plants blacken after nights below 10 to 12 °C; the lower end is taken"),
			High:     celsius(30, remembered, Memory, "plants grow thin in hot nights"),
			HighHigh: hot,
		},
	}
}

func strawberry() Crop {
	cold := celsius(-0.6, extension, Memory, "open blossom is killed within minutes at -0.6 to -1.1 °C; the upper end is taken")
	hot := celsius(35, remembered, Memory, "pollen fails and fruit softens within a day")
	return Crop{Name: "strawberry", Plain: "strawberry", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(4, training, Seen, "growth of cool crops stops at or below"),
			High:     celsius(30, extension, Memory, "days of this reduce fruit set and size"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(1.5, practice, Practice, "2 K of warning before open blossom is killed, rounded"),
			High:     celsius(24, remembered, Memory, "above the best day range of 18 to 24 °C nights stop flowering"),
			HighHigh: hot,
		},
	}
}

func seedlings() Crop {
	cold := celsius(4, training, Seen, "growth even of crops of middling need stops at 4 to 7 °C; young tender plants are hurt")
	hot := celsius(38, remembered, Memory, "young plants in small cells dry out and die within hours")
	damp := moulds()
	damp.High = percent(85, extension, Memory, damp.High.After, "damping-off and moulds gain if this lasts")
	return Crop{Name: "seedlings", Plain: "seedlings", Humidity: damp, VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(12, remembered, Memory, "tender seedlings are checked; best air after emergence is 16 to 21 °C"),
			High:     celsius(30, remembered, Memory, "plants grow thin, and some seed no longer germinates"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(8, training, Seen, "growth of warm crops stops at or below"),
			High:     celsius(27, remembered, Memory, "plants grow thin in hot nights"),
			HighHigh: hot,
		},
	}
}
