// Package api is the interface for programs, below /api/v1/. openapi.json
// describes it. Its names and meanings stay: what must change comes under another
// number. Everything in it is in °C and in the units it names, times are RFC 3339
// in UTC, and every error is {"error": "a sentence"}. Answers are not to be
// stored, but for the document.
package api
