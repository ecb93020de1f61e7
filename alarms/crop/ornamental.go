package crop

import "time"

func ornamental() []Crop {
	return []Crop{phalaenopsis(), orchidIntermediate(), orchidCool(), succulents(), tenderPerennials()}
}

func phalaenopsis() Crop {
	limits := Limits{
		LowLow:   celsius(12.8, orchids, Seen, "lowest of the cool autumn nights that start a flower spike; colder pits and kills leaves"),
		Low:      celsius(15.6, orchids, Seen, "nights should not be colder, but for some weeks in autumn"),
		High:     celsius(32.2, orchids, Seen, "lower end of the recommended maximum, with more humidity and air"),
		HighHigh: celsius(35.0, orchids, Seen, "upper end of the recommended maximum"),
	}
	damp := moulds()
	damp.Low = percent(50, orchids, Seen, 4*time.Hour, "lower end of the recommended range; the delay is common practice")
	return Crop{Name: "orchid-phalaenopsis", Plain: "moth orchid", Day: limits, Night: limits, Humidity: damp}
}

func orchidIntermediate() Crop {
	limits := Limits{
		LowLow:   celsius(10, remembered, Memory, "leaves are pitted by chilling within nights"),
		Low:      celsius(14, orchidBook, Memory, "lower end of the recommended nights"),
		High:     celsius(32, remembered, Memory, "above the recommended days; more air and shade are needed"),
		HighHigh: celsius(38, remembered, Memory, "leaves scorch and collapse within hours"),
	}
	return Crop{Name: "orchid-intermediate", Plain: "intermediate orchids", Day: limits, Night: limits, Humidity: moulds()}
}

func orchidCool() Crop {
	limits := Limits{
		LowLow:   celsius(4, remembered, Memory, "leaves are injured by chilling"),
		Low:      celsius(10, orchidBook, Memory, "lower end of the recommended nights"),
		High:     celsius(27, remembered, Memory, "cool orchids stop growing and drop their buds"),
		HighHigh: celsius(32, remembered, Memory, "leaves are lost if this lasts for some days"),
	}
	return Crop{Name: "orchid-cool", Plain: "cool orchids", Day: limits, Night: limits, Humidity: moulds()}
}

func succulents() Crop {
	limits := Limits{
		LowLow:   celsius(2, practice, Practice, "2 K of warning before frost; many desert cacti stand a little when quite dry"),
		Low:      celsius(7, cacti, Seen, "winter minimum of most desert cacti kept dry; melon cacti need 15 °C"),
		High:     celsius(32.2, cacti, Seen, "to be avoided in a closed house with still air"),
		HighHigh: scorched(),
	}
	return Crop{Name: "succulents", Plain: "cacti and succulents", Day: limits, Night: limits, Humidity: moulds()}
}

func tenderPerennials() Crop {
	limits := Limits{
		LowLow:   celsius(2, practice, Practice, "2 K of warning before frost"),
		Low:      celsius(5, extension, Memory, "lower end of frost-free overwintering, 5 to 7 °C"),
		High:     celsius(32, remembered, Memory, "flowering stops and leaves wilt"),
		HighHigh: celsius(38, remembered, Memory, "leaves scorch and potted plants dry out within hours"),
	}
	return Crop{Name: "tender-perennials", Plain: "tender perennials", Day: limits, Night: limits, Humidity: moulds()}
}
