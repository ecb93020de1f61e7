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
	"That cannot be felt: tick it off by hand.":                                                    "Das lässt sich nicht spüren: von Hand abhaken.",
	"Nothing is heard of that probe now, so it cannot be felt that it gets warm.":                  "Von diesem Fühler ist jetzt nichts zu hören, also lässt sich nicht spüren, dass er warm wird.",
	"That probe is not heard now, so it cannot be felt that it falls silent.":                      "Dieser Fühler ist jetzt nicht zu hören, also lässt sich nicht spüren, dass er verstummt.",
	"That circuit is silent already, so it cannot be felt that its power goes.":                    "Dieser Stromkreis ist schon still, also lässt sich nicht spüren, dass sein Strom ausgeht.",
	"Accounts are given at Telltale's own broker alone, once the page has accounts or a password.": "Konten werden nur am eigenen Broker von Telltale vergeben, und erst, wenn die Seite Konten oder ein Passwort hat.",
	"It could not be kept: %s.": "Sie konnte nicht aufbewahrt werden: %s.",
	"Telltale may not write the file: %s. Put the lines below into it by hand, and then let Telltale read it again (systemctl reload telltale).": "Telltale darf die Datei nicht schreiben: %s. Die Zeilen unten von Hand hineinschreiben und Telltale sie dann neu lesen lassen (systemctl reload telltale).",
	"The ten years of an authority count from now, but %s. Set it right, and try again.":                                                         "Die zehn Jahre einer Zertifizierungsstelle zählen ab jetzt, aber %s. Richtig stellen und noch einmal versuchen.",
	"There is no authority yet that could be used. Make one first.":                                                                              "Es gibt noch keine Zertifizierungsstelle, die sich verwenden ließe. Zuerst eine einrichten.",
	"This board has no address of a network, and no name that others could reach it by. Connect it, and try again.":                              "Dieser Rechner hat keine Adresse in einem Netz und keinen Namen, unter dem andere ihn erreichen könnten. Anschließen und noch einmal versuchen.",
	"This page may not change the configuration: write own-authority = true into its table [page].":                                              "Diese Seite darf die Konfiguration nicht ändern: own-authority = true in ihre Tabelle [page] schreiben.",
	"the configuration in the file is not good; telltale check tells every problem":                                                              "die Konfiguration in der Datei ist nicht in Ordnung; telltale check nennt jeden Fehler",
}
