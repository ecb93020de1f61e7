package crop

func ornamental() []Crop {
	return []Crop{phalaenopsis(), orchidIntermediate(), orchidCool(), succulents(), tenderPerennials()}
}

func phalaenopsis() Crop {
	limits := Limits{
		LowLow:   celsius(12.8, orchids, Seen, "lowest of the cool autumn nights that start a flower spike; colder pits and kills leaves"),
		High:     celsius(35.0, orchids, Seen, "upper end of the recommended maximum"),
		HighHigh: celsius(38, remembered, Memory, "leaves scorch and collapse within hours"),
	}
	return Crop{Name: "orchid-phalaenopsis", Plain: "moth orchid", Day: limits, Night: limits,
		Advice: []Advice{airing(),
			atLeast(ofAir, percent(50, orchids, Seen, "lower end of the recommended range")),
			atMost(byDay, celsius(32.2, orchids, Seen, "lower end of the recommended maximum, with more humidity and air"))}}
}

func orchidIntermediate() Crop {
	hot := celsius(38, remembered, Memory, "leaves scorch and collapse within hours")
	limits := Limits{
		LowLow: celsius(10, remembered, Memory, "leaves are pitted by chilling within nights"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "orchid-intermediate", Plain: "intermediate orchids", Day: limits, Night: limits,
		Advice: []Advice{airing(), atMost(byDay, celsius(32, remembered, Memory, "above the recommended days; more air and shade are needed"))}}
}

func orchidCool() Crop {
	hot := celsius(38, remembered, Memory, "leaves scorch and collapse within hours")
	limits := Limits{
		LowLow: celsius(4, remembered, Memory, "leaves are injured by chilling"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "orchid-cool", Plain: "cool orchids", Day: limits, Night: limits, Advice: []Advice{airing()}}
}

func succulents() Crop {
	hot := scorched()
	limits := Limits{
		LowLow: celsius(2, practice, Practice, "2 K of warning before frost; many desert cacti stand a little when quite dry"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "succulents", Plain: "cacti and succulents", Day: limits, Night: limits,
		Advice: []Advice{airing(),
			atLeast(byNight, celsius(7, cacti, Seen, "winter minimum of most desert cacti kept dry; melon cacti need 15 °C")),
			atMost(byDay, celsius(32.2, cacti, Seen, "to be avoided in a closed house with still air"))}}
}

func tenderPerennials() Crop {
	hot := celsius(38, remembered, Memory, "leaves scorch and potted plants dry out within hours")
	limits := Limits{
		LowLow: celsius(2, practice, Practice, "2 K of warning before frost"),
		High:   warns(hot), HighHigh: hot,
	}
	return Crop{Name: "tender-perennials", Plain: "tender perennials", Day: limits, Night: limits,
		Advice: []Advice{airing(),
			atLeast(byNight, celsius(5, extension, Memory, "lower end of frost-free overwintering, 5 to 7 °C")),
			atMost(byDay, celsius(32, remembered, Memory, "flowering stops and leaves wilt"))}}
}
