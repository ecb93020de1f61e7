package tongue

// german are the texts that no other file of the language has.
var german = map[Text]string{
	"closed": "geschlossen",
	"open":   "offen",
}
