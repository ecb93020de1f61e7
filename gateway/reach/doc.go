// Package reach brings alarms to people and to lamps: over MQTT, by mail, by
// webhook and by running a command. It promises that what was put into the
// outbox is tried until it is delivered, refused because it was made badly,
// given up after a stated time or cancelled; that what a channel will not have
// goes over the person's other channels at once, if it is of high priority; that
// every try is recorded; that one channel never waits for another; and that the
// words told are the core's own, unchanged.
//
// Route, a pure function, turns one transition into outbox rows: who is told,
// by which channel, from when on. The rows are saved together with the
// transition. A Worker then takes them from the Outbox and hands them to the
// Notifier of their channel. Delivery is at least once: after a crash a person
// may get a message twice, under the same ID, but never not at all.
package reach
