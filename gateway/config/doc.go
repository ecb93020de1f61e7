// Package config reads the one TOML file that says what is watched, by which
// probes, within which limits, and who is told. It promises to say everything
// that is wrong with the file at once, each problem with its line, and never to
// hand out a configuration that has a problem. Secrets are read from files or
// environment variables, never from the file itself, and cannot be printed.
//
// A [Draft] edits the text of such a file: every line that no edit asks for
// stays byte for byte, with its comments, and nothing is written with which
// the watch could not run.
package config
