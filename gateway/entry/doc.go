// Package entry lets the first person in to a garden in which nothing is set up
// yet: from another machine, by a code that only who sees the terminal or the
// journal of this one can know.
//
// What it promises:
//
//   - It speaks TLS alone, with a certificate that it makes and whose fingerprint
//     is told beside the code. Its dates hold whatever the machine's clock says.
//   - The code is one of 2^40. Five are compared, from all addresses together, each
//     in constant time; then, or half an hour after it was told, nothing listens
//     any more. Clock steps neither lengthen nor shorten that.
//   - The right code lets one browser in, once, for another half hour. Everybody
//     else hears that it has been used.
//   - Nothing but the one page is answered, and nothing of the garden is told.
//
// A new start is a new code and a new certificate: nothing is kept before the
// account is made. The account itself is made by whoever runs the Server.
package entry
