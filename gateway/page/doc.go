// Package page is the watch as people see it: one server-rendered page that
// follows the houses by server-sent events, and a small JSON view for machines.
//
// What it promises:
//
//   - It only reads pictures and hands people's inputs on; it judges nothing.
//   - Everything works without scripts: forms post, the page loads again. The
//     one script adds live updates. Nothing is fetched from anywhere else.
//   - An old value is never shown as if it were now. Each value carries its
//     age; a page that has heard nothing for eight seconds says that it shows
//     the past, and so does one whose watch stands still.
//   - A browser that cannot keep up gets only the newest state, and is dropped
//     when it takes nothing for ten seconds. No browser waits for another.
//   - Without a password it listens on loopback alone. With one, nothing but
//     the sign-in form and /healthz is seen before the password was given.
//   - A change needs a request from the page itself and the visitor's token.
//
// Times shown come from the watch's own clock, which may run fast; sessions,
// waits and deadlines of the server use the machine's.
package page
