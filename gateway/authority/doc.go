// Package authority makes an authority of TLS for one board, and the certificates
// by which browsers know the board's page once they trust it.
//
// What it promises:
//
//   - It vouches for the names and addresses that it was made for, those below these
//     names, and nothing else: critical name constraints (RFC 5280, section 4.2.1.10)
//     say so of every kind of name, as one of one kind does not bound another.
//   - The certificate that people trust is signed by a key that is forgotten in the
//     same moment: it can never sign anything else. What it has signed is the one
//     certificate by which the board signs, under the same constraints. Not everything
//     obeys constraints that stand in what it was told to trust; constraints of a
//     certificate below it everything must obey (section 6.1).
//   - It holds for ten years; what it signs for the page for 90 days, and is made anew
//     a month before, or when the clock was stepped beyond it.
package authority
