package record

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func asUnsure(err error, u **Unsure) bool { return errors.As(err, u) }

func TestFilesThatAreNone(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	for name, says := range map[string]string{
		dir:                            "it is a directory",
		filepath.Join(dir, "none.csv"): "no such file",
		"/dev/null":                    "no ordinary file",
		file("empty.csv", ""):          "the file is empty",
		file("blank.csv", "\n\n\n"):    "no row with a time and a number",
		file("header.csv", "time,t\n"): `no row with a time and a number was found in its first lines, which begin "time,t"`,
		file("text.csv", "Dear neighbour,\nit is warm.\n"): "no row with a time",
		file("zeros.csv", strings.Repeat("\x00", 100_000)): "no row with a time",
		file("no.gz", "\x1f\x8bnot packed"):                "gzip",
		file("times.csv", "time\n2026-01-01 00:00\n"):      "no row with a time and a number",
		file("line.csv", strings.Repeat("x", 3<<20)):       "no row with a time",
	} {
		table, err := Open(name, Options{})
		if err == nil {
			_ = table.Close()
		}
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: got %v, want %q", filepath.Base(name), err, says)
		}
	}
}

func TestAHugeLineCostsItself(t *testing.T) {
	text := "time,t\n2026-01-01 00:00,20\n2026-01-01 00:05," + strings.Repeat("9", maxLine+5) + "\n2026-01-01 00:10," + strings.Repeat("9", 100_000) + "\n2026-01-01 00:15,21\n"
	table := mustOpen(t, text, Options{})
	all := got(t, table)
	if len(all) != 3 || all[2] != "2026-01-01 00:15:00 t=21" {
		t.Errorf("got %d rows", len(all))
	}
	if f := table.Faults.All(); len(f) != 1 || f[0].Cause != TooLong || f[0].Line != 3 {
		t.Errorf("got %v", f)
	}
}

func TestABrokenOffPackedFile(t *testing.T) {
	rows := strings.Join(minutes(5000, "a"), "")
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write([]byte("time,probe,value\n" + rows))
	_ = z.Close()
	table := mustOpen(t, b.String()[:b.Len()/2], Options{})
	if n := len(got(t, table)); n < 1000 || n >= 5000 {
		t.Errorf("got %d rows", n)
	}
	if said := strings.Join(table.Said, " "); !strings.Contains(said, "broken off") {
		t.Errorf("it says %s", said)
	}
}

// What is written while the file is read counts the next time.
func TestAFileThatGrows(t *testing.T) {
	name := filepath.Join(t.TempDir(), "grows.csv")
	if err := os.WriteFile(name, []byte("time,probe,value\n"+strings.Join(minutes(2000, "a"), "")), 0o600); err != nil {
		t.Fatal(err)
	}
	table, err := Open(name, Options{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.WriteString("2027-01-01 00:00:00,b,1\nrubbish")
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	if n := len(got(t, table)); n != 2000 {
		t.Errorf("got %d rows", n)
	}
	if err := os.Truncate(name, 100); err != nil {
		t.Fatal(err)
	}
	again, err := Open(name, Options{})
	if err == nil {
		err = again.Close()
	}
	if err := errors.Join(err, table.Close()); err != nil {
		t.Error(err)
	}
}

// A row whose date is none by the order of the others is a fault, and counted as nothing
// else, though another order could read it.
func TestOneRowOfAnotherOrder(t *testing.T) {
	table := mustOpen(t, "time,t,rh\n29/01/2026 10:00,20,60\n30/01/2026 10:00,21,\n01/31/2026 10:00,22,62\n02/02/2026 10:00,23,63\n", Options{})
	if rows, late := table.Rows, table.Late; rows != 3 || late != 0 {
		t.Errorf("got %d rows, %d of them late, want 3 in order", rows, late)
	}
	if all := table.Faults.All(); len(all) != 1 || all[0].Line != 4 {
		t.Errorf("got faults %v, want one, in line 4", all)
	}
	for i, want := range []uint64{3, 2} {
		if s := table.Series[i]; s.Count != want || i == 0 && s.Every != 72*time.Hour {
			t.Errorf("got %d values of %s every %s, want %d", s.Count, s.Name(), s.Every, want)
		}
	}
	same(t, got(t, table), []string{"2026-01-29 10:00:00 t=20 rh=60", "2026-01-30 10:00:00 t=21", "2026-02-02 10:00:00 t=23 rh=63"})
}

// FuzzOpen: whatever a file holds, it is refused with a sentence or read by time,
// with every row either given or accounted for.
func FuzzOpen(f *testing.F) {
	for _, s := range []string{"time,t\n2026-01-01 00:00,20\n2026-01-01 00:05,21\n", "Datum;t\n01.02.2026 10:00;21,5\n", "1776089220,1\n1776089520,2\n",
		"time,probe,value\n2026-01-01 00:00,a,1\n2026-01-01 00:00,\"b,2\n2026-01-01 00:01,a,1\n", "\xff\xfet\x00,\x00", "\x1f\x8b\x08", "a,b\n\"\n\"",
		"Date,Time,t\n1/2/26,2:07 PM,1\n1/2/26,2:08 PM,2\n", "x\x00\x00", "time,t\r2026-01-01,5\r",
		"time,t\n29/01/2026 10:00,20\n01/31/2026 10:00,22\n02/02/2026 10:00,23\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		table, err := openText(string(text), Options{})
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" {
				t.Fatal("no sentence")
			}
			return
		}
		defer table.Close()
		last := time.Time{}
		n := uint64(0)
		for {
			row, ok, err := table.Next()
			if err != nil {
				t.Fatal(err)
			}
			if !ok {
				break
			}
			at := time.Unix(0, row.At)
			if at.Before(last) {
				t.Fatalf("%v after %v", at, last)
			}
			last = at
			n += uint64(len(row.Cells))
			for _, c := range row.Cells {
				if len(c.Text) == 0 || c.Series >= len(table.Series) {
					t.Fatalf("cell %+v", c)
				}
			}
		}
		want := uint64(0)
		for _, s := range table.Series {
			want += s.Count
		}
		if n != want {
			t.Fatalf("%d values the second time, %d the first", n, want)
		}
	})
}

// FuzzSplit: a line without a stray quote is parted as the standard library
// does.
func FuzzSplit(f *testing.F) {
	for _, s := range []string{`a,b,c`, `"a","b ""x""",c`, `"a,b",,`, `,`, `x"y,z`, `"a" ,b`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if strings.ContainsAny(text, "\r\n\x00") || text == "" {
			return
		}
		r := csv.NewReader(strings.NewReader(text))
		r.FieldsPerRecord = -1
		want, err := r.Read()
		if err != nil {
			return
		}
		mine := &rows{sep: ','}
		got, whole, odd := mine.split([]byte(text))
		if !whole || odd || len(got) != len(want) {
			t.Fatalf("%q: got %q %v %v, want %q", text, got, whole, odd, want)
		}
		for i := range got {
			if string(got[i]) != strings.Trim(want[i], " \t\x00") {
				t.Fatalf("%q: got %q, want %q", text, got, want)
			}
		}
	})
}
