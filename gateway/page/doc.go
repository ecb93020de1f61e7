// Package page is the watch as people see it: one server-rendered page that
// follows the houses by server-sent events, and an interface for programs, which
// api/openapi.json describes.
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
//   - Without accounts or a password it listens on loopback alone. With them,
//     nothing of the houses is seen before somebody signed in, but for the one
//     alarm of a signed link.
//   - An account that may look only changes nothing: every form and every POST
//     that acts is refused, and the forms are not shown.
//   - Secrets are kept as hashes alone, and wrong names and wrong passwords look
//     the same. Sessions outlive a restart; a changed password ends them.
//   - A link in a message acknowledges one alarm for one person, until it ends
//     or the alarm changes. Opening it changes nothing.
//   - A change needs a request from the page itself. Where a browser says that a
//     request comes from is what counts (Sec-Fetch-Site, else Origin:
//     net/http.CrossOriginProtection), for every path alike; cookies are
//     SameSite=Lax, so that what another site sends comes without a session, and
//     a link in a mail still finds its reader signed in. Nothing changes by GET.
//     Tokens in forms would guard against nothing more, and made every form a
//     thing that could be too old.
//
// Times shown come from the watch's own clock, which may run fast; sessions,
// waits and deadlines of the server use the machine's.
package page
