package page

// salt is a saturated solution of a salt: sealed in with it, air comes to a
// humidity that depends on the temperature alone.
type salt struct {
	Key, Name string
	at        [9]float64 // %RH at 0, 5, 10 ... 40 °C
}

// salts after Greenspan, Humidity fixed points of binary saturated aqueous
// solutions, J. Res. Natl. Bur. Stand. 81A (1977) 89-96; the figures are from
// memory.
var salts = []salt{
	{"nacl", "common salt (sodium chloride)", [9]float64{75.51, 75.65, 75.67, 75.61, 75.47, 75.29, 75.09, 74.87, 74.68}},
	{"mgcl2", "magnesium chloride", [9]float64{33.66, 33.60, 33.47, 33.30, 33.07, 32.78, 32.44, 32.05, 31.60}},
	{"kcl", "potassium chloride", [9]float64{88.61, 87.67, 86.77, 85.92, 85.11, 84.34, 83.62, 82.95, 82.32}},
}

// humidity over the salt at so many °C; ok is false where it is not known.
func (s salt) humidity(celsius float64) (rh float64, ok bool) {
	if !(celsius >= 0 && celsius <= 40) {
		return 0, false
	}
	i := min(int(celsius/5), len(s.at)-2)
	share := celsius/5 - float64(i)
	return s.at[i] + share*(s.at[i+1]-s.at[i]), true
}

func saltOf(key string) (salt, bool) {
	for _, s := range salts {
		if s.Key == key {
			return s, true
		}
	}
	return salt{}, false
}

// icePoint is what a thermometer must say in melting ice, °C: pure water and
// ice in air at sea level (ITS-90, where the triple point of water is 0.01 °C,
// and ASTM E563 on the ice bath; both from memory).
const icePoint = 0.0
