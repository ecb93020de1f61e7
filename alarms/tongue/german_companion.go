package tongue

// germanCompanion has what is said of two watches of one garden.
var germanCompanion = map[Text]string{
	"nothing has been heard of it since %s":                                              "seit %s ist nichts von ihr zu hören",
	"nothing has been heard of it since %s, and by its broker it is gone without a word": "seit %s ist nichts von ihr zu hören, und laut ihrem Broker ist sie ohne ein Wort weg",
	"nothing has been heard of it since %s, and by its broker it was stopped":            "seit %s ist nichts von ihr zu hören, und laut ihrem Broker wurde sie angehalten",
	"it lives, but readings that come here do not come there":                            "sie lebt, aber Messwerte, die hier ankommen, kommen dort nicht an",
	"it says that it cannot reach people: %s":                                            "sie sagt, dass sie niemanden erreicht: %s",

	"The companion tells you this, because the first watch has not been heard since %s.":                             "Das meldet die Begleiterin, weil die erste Wache seit %s nicht zu hören ist.",
	"The companion tells you this, because it has not heard the first watch since it was started.":                   "Das meldet die Begleiterin, weil sie die erste Wache seit ihrem Start nicht gehört hat.",
	"The companion tells you this, because no readings reach the first watch.":                                       "Das meldet die Begleiterin, weil keine Messwerte zur ersten Wache gelangen.",
	"The companion tells you this, because the first watch cannot reach people.":                                     "Das meldet die Begleiterin, weil die erste Wache niemanden erreicht.",
	"The companion tells you this, because the first watch has not confirmed that it told anybody.":                  "Das meldet die Begleiterin, weil die erste Wache nicht bestätigt hat, dass sie es jemandem gemeldet hat.",
	"The companion had told you that it began.":                                                                      "Auch den Beginn hatte die Begleiterin gemeldet.",
	"What was sent is no act of a person, so nothing was done.":                                                      "Was geschickt wurde, ist keine Handlung einer Person; nichts wurde getan.",
	"This comes from the companion.":                                                                                 "Das kommt von der Begleiterin.",
	"It judges by an older plan than the first watch.":                                                               "Sie urteilt nach einem älteren Plan als die erste Wache.",
	"not needed: the first watch has it in hand":                                                                     "nicht nötig: die erste Wache kümmert sich darum",
	"not needed: somebody has it in hand":                                                                            "nicht nötig: jemand kümmert sich darum",
	"not needed: nobody was told here that it began":                                                                 "nicht nötig: von hier wurde niemandem der Beginn gemeldet",
	"This is the companion of the watch at %s. It has no copy of its plan yet and watches nothing.":                  "Das ist die Begleiterin der Wache unter %s. Sie hat noch keine Kopie ihres Plans und überwacht nichts.",
	"This is the companion of the watch at %s, which it has not heard since it was started. The companion tells.":    "Das ist die Begleiterin der Wache unter %s, die sie seit ihrem Start nicht gehört hat. Es meldet die Begleiterin.",
	"This is the companion of the watch at %s, which was last heard at %s. The companion tells.":                     "Das ist die Begleiterin der Wache unter %s, die zuletzt um %s zu hören war. Es meldet die Begleiterin.",
	"This is the companion of the watch at %s, which no readings reach. The companion tells what that one does not.": "Das ist die Begleiterin der Wache unter %s, zu der keine Messwerte gelangen. Die Begleiterin meldet, was jene nicht meldet.",
	"This is the companion of the watch at %s, which cannot reach people. The companion tells.":                      "Das ist die Begleiterin der Wache unter %s, die niemanden erreicht. Es meldet die Begleiterin.",
	"This is the companion of the watch at %s, last heard at %s. That one tells; this one is quiet.":                 "Das ist die Begleiterin der Wache unter %s, zuletzt gehört um %s. Jene meldet; diese ist still.",
	"The plan here is older than that of the first watch.":                                                           "Der Plan hier ist älter als der der ersten Wache.",
	"The plan here is older than that of the first watch, which could not be taken: %s":                              "Der Plan hier ist älter als der der ersten Wache, der nicht übernommen werden konnte: %s",
	"What waits here for the first watch: %d.":                                                                       "Was hier auf die erste Wache wartet: %d.",

	"The first watch does not do its work, so its companion tells in its place":                                           "Die erste Wache tut ihre Arbeit nicht, darum meldet an ihrer Stelle die Begleiterin",
	"The companion of this watch is not heard":                                                                            "Die Begleiterin dieser Wache ist nicht zu hören",
	"The first watch does its work again, and tells. Its companion is quiet again.":                                       "Die erste Wache tut ihre Arbeit wieder und meldet. Ihre Begleiterin ist wieder still.",
	"has the first watch's board power and network, and what does its page say? Until it is back there is one watch only": "hat die Platine der ersten Wache Strom und Netz, und was sagt ihre Seite? Bis sie zurück ist, gibt es nur eine Wache",
	"has the companion's board power and network, and what does its page say? Until it is back there is one watch only":   "hat die Platine der Begleiterin Strom und Netz, und was sagt ihre Seite? Bis sie zurück ist, gibt es nur eine Wache",
}
