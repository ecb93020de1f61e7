package tongue

// germanEntry has the first person's way in, and the drill.
var germanEntry = map[Text]string{
	"The first set-up · Telltale": "Die erste Einrichtung · Telltale",
	"Who are you?":                "Wer ist da?",
	"The code":                    "Der Code",
	"Go on":                       "Weiter",
	"Make the account":            "Das Konto anlegen",
	"The same password again":     "Dasselbe Passwort noch einmal",
	"Password, 12 characters at least: a few plain words are best": "Passwort, mindestens 12 Zeichen: am besten ein paar schlichte Wörter",
	"With this name and password you will open the page from now on. The log names you by it.": "Mit diesem Namen und Passwort wird die Seite von nun an geöffnet. " +
		"Unter dem Namen steht im Protokoll, wer etwas getan hat.",
	"Nothing is set up here yet. Where Telltale was started, in the terminal or in the journal (": "Hier ist noch nichts eingerichtet. " +
		"Wo Telltale gestartet wurde, im Terminal oder im Journal (",
	"), stands a code of eight letters and digits. Give it here, to show that this machine is yours.": "), steht ein Code aus acht Buchstaben und Ziffern. " +
		"Ihn hier eingeben: Das zeigt, wem dieser Rechner gehört.",
	"Make an authority for this board too. Phones that are told to trust it know this page without a warning, and can take alarms while it is closed.": "Auch eine " +
		"Zertifizierungsstelle für diese Platine anlegen. Telefone, die ihr vertrauen, kennen diese Seite ohne Warnung und können Alarme annehmen, während sie geschlossen ist.",
	"The page that comes first says how your phone comes to trust the authority, and what that means.": "Die Seite, die zuerst kommt, sagt, wie das Telefon der Stelle vertraut, " +
		"und was das bedeutet.",
	"Before you do, compare. Beside the code stands the SHA-256 fingerprint of the certificate, which your browser shows behind the sign in front of the address. " +
		"If they differ, somebody stands between you and Telltale: type nothing here.": "Vorher vergleichen. Neben dem Code steht der SHA-256-Fingerabdruck des Zertifikats; " +
		"der Browser zeigt ihn hinter dem Zeichen vor der Adresse. Weichen sie voneinander ab, steht jemand dazwischen: hier nichts eingeben.",
	"The password is kept as a hash that nobody can read. You have half an hour; then Telltale must be started again for a new code.": "Das Passwort wird als Hash " +
		"aufbewahrt, den niemand lesen kann. Zeit ist eine halbe Stunde; danach muss Telltale für einen neuen Code neu gestartet werden.",
	"Go on to the page":          "Weiter zur Seite",
	"Waiting until it is there…": "Noch nicht da, bitte warten…",
	"It takes longer than usual. If it does not come, the log of Telltale says why.": "Es dauert länger als sonst. Kommt die Seite nicht, steht im Logbuch von Telltale, warum.",
	"Telltale starts anew with it, and opens its page at this address. That takes some seconds. Sign in there as": "Telltale startet damit neu und öffnet seine Seite " +
		"unter dieser Adresse. Das dauert einige Sekunden. Dort anmelden als",
	"The code has been used": "Der Code ist verbraucht",
	"It lets one browser in, and another one has used it: perhaps you yourself, in another window. There it goes on.": "Er lässt einen einzigen Browser ein, und ein anderer " +
		"hat ihn benutzt: vielleicht ein anderes eigenes Fenster. Dort geht es weiter.",
	"If it was neither you nor somebody you know, stop Telltale at once: whoever it is can make an account here.": "War es niemand Bekanntes, Telltale sofort anhalten: " +
		"Wer es auch ist, kann hier ein Konto anlegen.",
	"To begin again with a new code, start Telltale again.": "Für einen neuen Code Telltale neu starten.",
	"The code is no good any more":                          "Der Code gilt nicht mehr",
	"Too many wrong codes were given, or half an hour is over. Start Telltale again: it then has a new code.": "Es wurden zu viele falsche Codes eingegeben, oder die halbe Stunde " +
		"ist vorbei. Telltale neu starten: Dann gibt es einen neuen Code.",
	"It is no fire alarm and no life-safety alarm. Mains wiring, current measurement in a panel and ground-fault protection are work for a licensed electrician under the local code.": "Es " +
		"ist kein Feuermelder und kein Schutz für Menschenleben. Netzanschlüsse, Strommessung im Verteiler und Fehlerstromschutz sind Arbeit für eine Elektrofachkraft nach den örtlichen Vorschriften.",
	"That form could not be read.": "Dieses Formular war nicht zu lesen.",
	"The code has eight letters and digits, such as 7K2M-9QXD; this had none, more or fewer. It did not count: %s left.": "Der Code hat acht Buchstaben und Ziffern, etwa " +
		"7K2M-9QXD; dies waren keine, mehr oder weniger. Es zählt nicht: noch %s.",
	"That is not the code: %s left.": "Das ist nicht der Code: noch %s.",
	"one try is":                     "ein Versuch",
	"%d tries are":                   "%d Versuche",
	"It could not be written; the log of Telltale says why. Nothing was changed.": "Es war nicht zu schreiben; warum, steht im Logbuch von Telltale. Geändert wurde nichts.",
	"The two passwords are not the same.":                                         "Die beiden Passwörter sind nicht gleich.",
	"Say by which name you sign in.":                                              "Angeben, unter welchem Namen die Anmeldung geht.",
	"The password %s.":                                                            "Das Passwort: %s.",
	"Somebody has changed the configuration meanwhile, so that it lets somebody in already. Nothing was written. Start Telltale again.": "Die Konfiguration wurde inzwischen " +
		"geändert und lässt schon jemanden ein. Geschrieben wurde nichts. Telltale neu starten.",
	"The configuration was changed at the same moment. Nothing was written. Send the form once more.": "Die Konfiguration wurde im selben Augenblick geändert. Geschrieben " +
		"wurde nichts. Das Formular noch einmal senden.",
	"Telltale may not write its configuration: %v. Nothing was changed.": "Telltale darf seine Konfiguration nicht schreiben: %v. Geändert wurde nichts.",
}
