package tongue

// german are the texts that no other file of the language has.
var german = map[Text]string{
	"closed": "geschlossen",
	"open":   "offen",
	"A demo: this garden is played, %.0f times as fast as real time, with a watch and its companion. Nobody is told of anything.": "Eine Vorführung: dieser Garten wird gespielt, %.0f-mal so schnell wie in Wirklichkeit, mit einer Wache und ihrer Begleiterin. Niemandem wird etwas gemeldet.",
	"A demo: this garden is played, %.0f times as fast as real time, with seven days behind it. Nobody is told of anything.":      "Eine Vorführung: dieser Garten wird gespielt, %.0f-mal so schnell wie in Wirklichkeit, mit sieben Tagen davor. Niemandem wird etwas gemeldet.",
}
