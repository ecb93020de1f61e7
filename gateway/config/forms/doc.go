// Package forms lets people change what the config says without a word of its language:
// each table of it that describes the garden or its people is a form, whose fields are
// called what the manual calls them.
//
// What it promises:
//
//   - There is one list of keys and what they say, that of the manual. A key that comes
//     to the config, and so to the manual, comes to its form.
//   - A form shows what stands in the file, and changes nothing but what was changed in
//     it: see package edit. What a form leaves empty is taken out of the file, so that
//     holds what the form says that then holds.
//   - What is wrong stands at its field, in the words of the config's own check.
//   - No form names a file or a program, and none shows a secret that stands. Messages
//     alone leave the garden by a form: one that leads a channel elsewhere must give its
//     secret again, so that nobody learns it by a server of theirs.
package forms
