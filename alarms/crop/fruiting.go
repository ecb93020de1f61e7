package crop

func fruiting() []Crop {
	return []Crop{tomato(), sweetPepper(), cucumber(), aubergine(), melon(), snapBean()}
}

func tomato() Crop {
	cold := celsius(5.0, utah, Seen, "fruit is injured by chilling if this lasts 6 to 8 days; told at once because frost, which kills the plant, is only 5 K away")
	return Crop{Name: "tomato", Plain: "tomato", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(10, extension, Memory, "growth stops at 8 to 10 °C; the upper end is taken by day"),
			High:     celsius(32.2, purdue, Seen, "fruit set needs days below this"),
			HighHigh: celsius(37.8, purdue, Seen, "pollen germination is much reduced; at 40 °C for 3 h on two days running fruit set fails"),
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(8, extension, Memory, "growth stops at 8 to 10 °C; the lower end is taken by night"),
			High:     celsius(23.9, maryland, Seen, "pollen tubes grow badly in nights above this"),
			HighHigh: celsius(35.0, maryland, Seen, "pollen loses its viability if days reach this and nights stay above 26.7 °C; by night it is certainly too hot"),
		},
	}
}

func sweetPepper() Crop {
	cold := celsius(7.2, utah, Seen, "fruit is injured by chilling within days")
	hot := celsius(38, remembered, Memory, "flowers and young fruit drop within a day")
	return Crop{Name: "sweet-pepper", Plain: "pepper", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(12, extension, Memory, "growing plants are chilled in nights below 10 to 12 °C; the upper end is taken by day"),
			High:     celsius(34, hydroponic, Seen, "fewer fruit set above"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(10, extension, Memory, "growing plants are chilled in nights below 10 to 12 °C; the lower end is taken"),
			High:     celsius(26, remembered, Memory, "flowers drop after hot nights, from about 24 °C on; 2 K are added for single nights"),
			HighHigh: hot,
		},
	}
}

func cucumber() Crop {
	cold := celsius(7, usda, Seen, "lowest safe temperature of the harvested fruit; growing plants are no hardier")
	hot := leafScorch("leaf edges scorch and flowers abort within hours")
	return Crop{Name: "cucumber", Plain: "cucumber", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(12, extension, Memory, "growing plants are chilled below 10 to 12 °C; the upper end is taken by day"),
			High:     celsius(35, extension, Memory, "growing plants suffer within hours"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(10, extension, Memory, "growing plants are chilled in nights below 10 to 12 °C; the lower end is taken"),
			High:     celsius(28, remembered, Memory, "plants grow thin in hot nights; above the best day range of 24 to 28 °C a night is too hot"),
			HighHigh: hot,
		},
	}
}

func aubergine() Crop {
	cold := celsius(7, usda, Seen, "lowest safe temperature of the harvested fruit; growing plants are no hardier")
	hot := leafScorch("flowers abort and leaf edges scorch within hours")
	return Crop{Name: "aubergine", Plain: "aubergine", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(15, extension, Memory, "growth is checked below 15 to 17 °C; the lower end is taken"),
			High:     celsius(35, remembered, Memory, "pollen fails above about 35 °C"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(10.0, utah, Seen, "fruit is injured by chilling within days"),
			High:     celsius(28, remembered, Memory, "flowers drop after hot nights"),
			HighHigh: hot,
		},
	}
}

func melon() Crop {
	cold := celsius(7, usda, Seen, "lower end of the lowest safe temperature, 7 to 10 °C, of harvested honeydew; growing plants are no hardier")
	hot := leafScorch("leaf edges scorch and flowers abort within hours")
	return Crop{Name: "melon", Plain: "melon", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(12, remembered, Memory, "growing plants are chilled below 10 to 12 °C; the upper end is taken by day"),
			High:     celsius(35, remembered, Memory, "fruit set falls above"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(10, remembered, Memory, "growing plants are chilled in nights below 10 to 12 °C; the lower end is taken"),
			High:     celsius(28, remembered, Memory, "plants grow thin in hot nights"),
			HighHigh: hot,
		},
	}
}

func snapBean() Crop {
	cold := celsius(2, practice, Practice, "frost at 0 to -1 °C kills the plant; 2 K of warning are kept")
	hot := celsius(38, remembered, Memory, "flowers and small pods drop within a day")
	return Crop{Name: "snap-bean", Plain: "bean", Humidity: moulds(), VPD: leaves(),
		Day: Limits{
			LowLow:   cold,
			Low:      celsius(8, training, Seen, "growth of warm crops stops at or below"),
			High:     celsius(32.2, extension, Memory, "blossom drops if this lasts for days"),
			HighHigh: hot,
		},
		Night: Limits{
			LowLow:   cold,
			Low:      celsius(7, usda, Seen, "lowest safe temperature of the harvested pod"),
			High:     celsius(27, remembered, Memory, "blossom drops after hot nights"),
			HighHigh: hot,
		},
	}
}
