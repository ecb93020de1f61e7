package edit

// fixedEnv is the environment that the files see.
func fixedEnv(name string) (string, bool) {
	v, ok := map[string]string{
		"GOOD_SECRET": "correct-horse-of-thimble-garth",
		"GOOD_KEY":    "whsec_Y29ycmVjdC1ob3JzZS1vZi10aGltYmxlLWdhcnRo",
		"GOOD_URL":    "https://heartbeat.example.org/correct-horse",
	}[name]
	return v, ok
}
