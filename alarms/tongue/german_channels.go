package tongue

// germanChannels has what the forms of channels say.
var germanChannels = map[Text]string{
	"Mail: %s":              "Mail: %s",
	"A further mail server": "Ein weiterer Mailserver",
	"A mail server that sends messages to people.": "Ein Mailserver, der Nachrichten an Personen schickt.",
	"Alarms on phones: %s":                         "Alarme auf Telefonen: %s",
	"Alarms on phones with the page closed":        "Alarme auf Telefonen bei geschlossener Seite",
	"Messages to the phones and browsers that people register under This device. The page must be opened there by https.": "Nachrichten an die Telefone und Browser, die unter „Dieses Gerät“ angemeldet werden. Die Seite muss dort über https geöffnet werden.",
	"Text messages: %s": "SMS: %s",
	"Text messages":     "SMS",
	"Text messages through the modem of this board.":                                  "SMS über das Modem dieser Platine.",
	"Another program: %s":                                                             "Ein anderes Programm: %s",
	"Another program that takes messages":                                             "Ein anderes Programm, das Nachrichten annimmt",
	"A program elsewhere that messages are posted to, signed.":                        "Ein Programm anderswo, an das Nachrichten mit Unterschrift geschickt werden.",
	"Messages leave your garden by this. Whoever runs what takes them can read them.": "Auf diesem Weg verlassen Nachrichten den Garten. Wer betreibt, was sie annimmt, kann sie lesen.",

	"It names the channel in messages and in the log.":                          "So heißt der Weg in Nachrichten und im Protokoll.",
	"Trying it out, and how much at once":                                       "Ausprobieren, und wie viel auf einmal",
	"Who is told by it":                                                         "Wem auf diesem Weg gemeldet wird",
	"Nobody is named yet: add a person first, or afterwards.":                   "Noch ist niemand genannt: vorher oder nachher eine Person anlegen.",
	"There is nobody called %s.":                                                "Niemand heißt %s.",
	"There is no such channel.":                                                 "Diesen Weg gibt es nicht.",
	"Address: where messages are posted to, beginning with https://":            "Adresse: wohin Nachrichten geschickt werden, beginnt mit https://",
	"It may hold a token: it is kept in a file of its own and not shown again.": "Sie kann ein Geheimnis enthalten: sie wird in einer eigenen Datei aufbewahrt und nicht wieder gezeigt.",
	"It is kept in a file of its own and not shown again.":                      "Es wird in einer eigenen Datei aufbewahrt und nicht wieder gezeigt.",
	"There is one. Left empty: it stays.":                                       "Es gibt eines. Leer gelassen: es bleibt.",
	"There is one, at %s. Left empty: it stays.":                                "Es gibt eine, bei %s. Leer gelassen: sie bleibt.",
	"It was just made. Copy it into the program that takes the messages before you go on: it is not shown again.": "Es wurde eben gemacht. Vor dem nächsten Schritt in das Programm kopieren, das die Nachrichten annimmt: es wird nicht wieder gezeigt.",
	"It is needed.": "Das wird gebraucht.",
	"It must begin with https://, so that nobody on the way can read along.":                       "Sie muss mit https:// beginnen, damit unterwegs niemand mitlesen kann.",
	"Give it again. What stands was given for where the channel leads now, and goes nowhere else.": "Noch einmal angeben. Was da ist, gilt dem Ziel, zu dem der Weg jetzt führt, und geht nirgends sonst hin.",
}
