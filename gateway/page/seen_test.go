package page

import (
	"strings"
	"testing"
)

// Who chooses °F gets the watch's sentences in °F, on the page and live; who
// does not gets them as before.
func TestDegreesAreChosenOnADevice(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	if _, text := st.get("/"); strings.Contains(text, "(in °F)") {
		t.Error("°F before anybody chose it")
	}
	st.post("/degrees", "degrees", "f")
	_, text := st.get("/")
	wantAll(t, reading(text), "(in °F)")
	if !strings.Contains(text, "75.7") { // 24.3 °C at the bench
		t.Error("24.3 °C is not shown as 75.7 °F")
	}
	st.post("/degrees", "degrees", "")
	if _, text := st.get("/"); strings.Contains(text, "(in °F)") {
		t.Error("°F after the choice was taken back")
	}
}
