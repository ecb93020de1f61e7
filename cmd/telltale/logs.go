package main

import (
	"io"
	"os"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/term"
)

// logger writes for people on a terminal and as JSON lines elsewhere.
func logger(level string) (zerolog.Logger, error) {
	lv, err := oneOf("--log-level", level, map[string]zerolog.Level{
		"debug": zerolog.DebugLevel, "info": zerolog.InfoLevel, "warn": zerolog.WarnLevel, "error": zerolog.ErrorLevel})
	if err != nil {
		return zerolog.Nop(), err
	}
	var out io.Writer = os.Stderr
	if term.IsTerminal(int(os.Stderr.Fd())) {
		out = zerolog.ConsoleWriter{Out: os.Stderr, TimeFormat: time.TimeOnly}
	}
	return zerolog.New(out).Level(lv).With().Timestamp().Logger(), nil
}

// readSecret reads a secret from the first line of a file.
func readSecret(file string) (string, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	line, _, _ := strings.Cut(string(text), "\n")
	return strings.TrimSuffix(line, "\r"), nil
}
