package scenario_test

const files = "../../testdata/scenario/*.txt"
