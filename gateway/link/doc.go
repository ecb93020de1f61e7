// Package link is the connection to the MQTT broker (MQTT 3.1.1), and a small
// broker of its own for houses that have none.
//
// # What it promises
//
// A [Link] keeps one connection to one of the given brokers. A broker that is
// down, at the start or later, is no failure of Run: it is told on Changes
// with a sentence that says what to check, and tried again after growing,
// random pauses. After each connection everything is subscribed again.
//
// With QoS 1 and a kept session a message is acknowledged when it stands in
// the queue of Messages, so what is published while the link is down arrives
// later, as far as the broker keeps it. Such a message is marked Held: MQTT
// 3.1.1 does not say how old it is. A message sent because of a new
// subscription is marked Retained. Neither is a sign of life.
//
// # Doubles
//
// At QoS 1 a broker may deliver a message again after a lost connection, with
// or without the duplicate mark. Filters that another one covers are not
// subscribed, which avoids most double deliveries by overlapping filters. Two
// filters that overlap in part (a/+/c and a/b/+) may still bring a message
// twice, and a retained one always. The link passes all of them on: only the
// reader can tell a copy from a second equal reading.
//
// # When the reader is slow
//
// Messages is a bounded queue. When it is full the link first waits up to
// Options.holdBack; nothing is acknowledged meanwhile, so that the broker holds
// the rest. After that each new message pushes out the oldest one, until half
// of the queue is free again: for a watch the newest readings count, and the
// connection must not break because the reader sticks. A retained message
// never pushes out another. Every message lost in this way is counted in
// Stats.Dropped and told in the log, once when it begins and once when it ends.
//
// # Floods
//
// One topic brings 2048 messages at once and 100 a second at most; topics heard
// for the first time 4096 and 1000 together. What is beyond goes no further, so
// that no probe delays another: it is counted in Stats.Flooded and told in the
// log, once a topic. The embedded broker does the same before it passes messages
// on. What the broker held while the link was down, and what it retained, is not
// bounded.
//
// # Setting up
//
// A [Scout] shows what arrives at the broker on any topic, within bounds, over
// a connection of its own that exists only while somebody looks.
//
// # The embedded broker
//
// [StartBroker] listens on loopback without accounts, elsewhere only with them.
// An account publishes and subscribes only where it has a right to; topics
// below telltale/ are written by the watch alone, which reaches the broker
// within the process (Options.Broker), and whose client IDs nobody else may use,
// also while it is away. What one account can make it keep is
// bounded (bounds.go, hello.go): connections, of which those that have not said
// who they are are few; sessions, retained messages and messages that are not
// taken or acknowledged. A reader that takes nothing is sent away and holds up
// nobody, and guessing at passwords is slow. It keeps everything in memory: retained
// values and sessions are gone when it stops. What it held for an absent client
// it delivers in any order within a second, and marked as duplicate.
package link
