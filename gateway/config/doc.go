// Package config reads the one TOML file that says what is watched, by which
// probes, within which limits, and who is told. It promises to say everything
// that is wrong with the file at once, each problem with its line, and never to
// hand out a configuration that has a problem. What a plan may be is said by
// alarms.Plan.Check, and here where that stands in the file. Secrets are read from files or
// environment variables, never from the file itself, and cannot be printed.
package config
