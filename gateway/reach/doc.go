// Package reach brings alarms to people and to lamps: over MQTT, by mail, by
// webhook and by running a command. It promises that what was put into the
// outbox is tried until it is delivered, refused for good, given up after a
// stated time or cancelled; that every try is recorded; that one channel never
// waits for another; and that the words told are the core's own, unchanged.
//
// Route, a pure function, turns one transition into outbox rows: who is told,
// by which channel, from when on. The rows are saved together with the
// transition. A Worker then takes them from the Outbox and hands them to the
// Notifier of their channel. Delivery is at least once: after a crash a person
// may get a message twice, under the same ID, but never not at all.
package reach
