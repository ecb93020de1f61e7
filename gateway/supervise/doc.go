// Package supervise lets others see that the watch lives: the service manager
// on this machine, and somebody beyond it.
//
// A [Manager] speaks the notification protocol of systemd: started, reloading,
// stopping, a line of status, and the watchdog. A [Heartbeat] sends a sign of
// life to other machines at a steady pace, so that its absence is noticed
// there when this machine loses power or network.
//
// Both send only while the watch is [Alive]: a process that still runs but no
// longer judges readings must look dead. A [Pulse] is the owner loop's proof.
package supervise
