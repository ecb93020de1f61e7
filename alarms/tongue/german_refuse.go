package tongue

// germanRefuse has why something was not done that a person asked for.
var germanRefuse = map[Text]string{
	"The end must be in the future and within 31 days, so nothing was set.": "Das Ende muss in der Zukunft und innerhalb von 31 Tagen liegen, also ist nichts eingetragen.",
	"Nobody of that name is told of alarms, so nothing was set.":            "Niemandem mit diesem Namen werden Alarme gemeldet, also ist nichts eingetragen.",
	"No drill is being done, so nothing was done. Begin one first.":         "Es läuft keine Übung, also ist nichts geschehen. Zuerst eine beginnen.",
	"The drill has no such step any more, so nothing was done.":             "Diesen Schritt hat die Übung nicht mehr, also ist nichts geschehen.",
	"The channel only rehearses, so nothing is sent to any device.":         "Der Kanal probt nur, also wird an kein Gerät etwas gesendet.",
	"That device does not take alarms any more.":                            "Dieses Gerät nimmt keine Alarme mehr an.",
	"Nobody is set up to be told, so nothing was sent. Name people and channels in the configuration.": "Es ist niemand eingerichtet, dem gemeldet wird, also wurde nichts gesendet. " +
		"Personen und Kanäle in der Konfiguration nennen.",
	"That cannot be felt: tick it off by hand.":                                   "Das lässt sich nicht spüren: von Hand abhaken.",
	"Nothing is heard of that probe now, so it cannot be felt that it gets warm.": "Von diesem Fühler ist jetzt nichts zu hören, also lässt sich nicht spüren, dass er warm wird.",
	"That probe is not heard now, so it cannot be felt that it falls silent.":     "Dieser Fühler ist jetzt nicht zu hören, also lässt sich nicht spüren, dass er verstummt.",
	"That circuit is silent already, so it cannot be felt that its power goes.":   "Dieser Stromkreis ist schon still, also lässt sich nicht spüren, dass sein Strom ausgeht.",
}
