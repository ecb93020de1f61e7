package crop

func woody() []Crop {
	return []Crop{
		citrus("lemon", celsius(1.1, lsu, Derived, "wood is killed or badly hurt at -1.7 °C and below for hours; a plant that was not hardened freezes 2.8 K warmer"),
			celsius(4, practice, Practice, "a potted lemon is kept above this in its winter rest")),
		citrus("lime", celsius(1.1, lsu, Derived, "wood is killed or badly hurt at -1.7 °C and below for hours; a plant that was not hardened freezes 2.8 K warmer"),
			celsius(7, usda, Seen, "lower end of the lowest safe temperature, 7 to 9 °C, of the fruit")),
		citrus("orange", celsius(-0.5, lsu, Derived, "large branches are hurt at -3.3 °C and below for hours; a plant that was not hardened freezes 2.8 K warmer"),
			celsius(3, usda, Seen, "lowest safe temperature of the fruit")),
		citrus("mandarin", celsius(-2.2, lsu, Derived, "wood is hurt at -5.0 °C and below for hours; a plant that was not hardened freezes 2.8 K warmer"),
			celsius(0.6, lsu, Derived, "fruit freezes at -2.2 °C and below for several hours; that of a plant that was not hardened 2.8 K warmer")),
		fig(),
	}
}

// citrus in pots has one set of limits for day and night: in winter it rests.
// low is the bound that is advised for its rest, or of its fruit.
func citrus(name string, lowLow, low Figure) Crop {
	hot := scorched()
	limits := Limits{LowLow: lowLow, High: warns(hot), HighHigh: hot}
	return Crop{Name: name, Plain: name, Day: limits, Night: limits, Advice: append(leaves(), atLeast(byNight, low))}
}

func fig() Crop {
	hot := scorched()
	limits := Limits{
		LowLow: celsius(-1, extension, Memory, "young growth is hurt at -1 to -2 °C; dormant wood stands -9 °C, so lower it for the winter rest"),
		Low:    celsius(0, extension, Memory, "lower end of the winter rest of potted plants, 0 to 7 °C; young growth is hurt soon below"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "fig", Plain: "fig", Day: limits, Night: limits,
		Advice: []Advice{airing(), atMost(byDay, celsius(38, remembered, Memory, "growth stops and leaves wilt"))}}
}
