package crop

func fruiting() []Crop {
	return []Crop{tomato(), sweetPepper(), cucumber(), aubergine(), melon(), snapBean()}
}

func tomato() Crop {
	cold := celsius(5.0, utah, Seen, "fruit is injured by chilling if this lasts 6 to 8 days; told at once because frost, which kills the plant, is only 5 K away")
	day := celsius(37.8, purdue, Seen, "pollen germination is much reduced; at 40 °C for 3 h on two days running fruit set fails")
	night := celsius(35.0, maryland, Seen, "pollen loses its viability if days reach this and nights stay above 26.7 °C; by night it is certainly too hot")
	return Crop{Name: "tomato", Plain: "tomato",
		Day:   Limits{LowLow: cold, High: warns(day), HighHigh: day},
		Night: Limits{LowLow: cold, High: warns(night), HighHigh: night},
		Advice: append(leaves(),
			atLeast(byDay, celsius(10, extension, Memory, "growth stops at 8 to 10 °C; the upper end is taken by day")),
			atMost(byDay, celsius(32.2, purdue, Seen, "fruit set needs days below this; a hot noon alone costs nothing")))}
}

func sweetPepper() Crop {
	cold := celsius(7.2, utah, Seen, "fruit is injured by chilling within days; told at once because a night a little colder hurts the plant for good")
	hot := celsius(38, remembered, Memory, "flowers and young fruit drop within a day")
	return Crop{Name: "sweet-pepper", Plain: "pepper",
		Day:   Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Night: Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Advice: append(leaves(),
			atLeast(byDay, celsius(12, extension, Memory, "growing plants are chilled in nights below 10 to 12 °C; the upper end is taken by day")))}
}

func cucumber() Crop {
	cold := celsius(7, usda, Seen, "lowest safe temperature of the harvested fruit; growing plants are no hardier, and a night a little colder hurts them for good")
	hot := leafScorch("leaf edges scorch and flowers abort within hours")
	return Crop{Name: "cucumber", Plain: "cucumber",
		Day:   Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Night: Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Advice: append(leaves(),
			atLeast(byDay, celsius(12, extension, Memory, "growing plants are chilled below 10 to 12 °C; the upper end is taken by day")),
			atMost(byNight, celsius(28, remembered, Memory, "plants grow thin in hot nights; above the best day range of 24 to 28 °C a night is too hot")))}
}

func aubergine() Crop {
	cold := celsius(7, usda, Seen, "lowest safe temperature of the harvested fruit; growing plants are no hardier, and a night a little colder hurts them for good")
	hot := leafScorch("flowers abort and leaf edges scorch within hours")
	return Crop{Name: "aubergine", Plain: "aubergine",
		Day:   Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Night: Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Advice: append(leaves(),
			atLeast(byDay, celsius(15, extension, Memory, "growth is checked below 15 to 17 °C, as on any spring morning; the lower end is taken")))}
}

func melon() Crop {
	cold := celsius(7, usda, Seen, "lower end of the lowest safe temperature, 7 to 10 °C, of harvested honeydew; growing plants are no hardier, and a night a little colder hurts them for good")
	hot := leafScorch("leaf edges scorch and flowers abort within hours")
	return Crop{Name: "melon", Plain: "melon",
		Day:   Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Night: Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Advice: append(leaves(),
			atLeast(byDay, celsius(12, remembered, Memory, "growing plants are chilled below 10 to 12 °C; the upper end is taken by day")),
			atMost(byNight, celsius(28, remembered, Memory, "plants grow thin in hot nights")))}
}

func snapBean() Crop {
	cold := celsius(2, practice, Practice, "frost at 0 to -1 °C kills the plant; 2 K of warning are kept")
	hot := celsius(38, remembered, Memory, "flowers and small pods drop within a day")
	return Crop{Name: "snap-bean", Plain: "bean",
		Day:   Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Night: Limits{LowLow: cold, High: warns(hot), HighHigh: hot},
		Advice: append(leaves(),
			atLeast(byDay, celsius(8, training, Seen, "growth of warm crops stops at or below")),
			atLeast(byNight, celsius(7, usda, Seen, "lowest safe temperature of the harvested pod")))}
}
