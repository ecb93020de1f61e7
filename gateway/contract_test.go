package gateway_test

import (
	"cmp"
	"flag"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
)

var rewrite = flag.Bool("rewrite", false, "write the lists of quantities in what programs go by anew; read the difference before keeping it")

// What is promised to programs lists every quantity, with its unit.
func TestContractsListEveryQuantity(t *testing.T) {
	var names, units, both []string
	for _, q := range alarms.Quantities {
		unit := cmp.Or(q.Facts().Unit, "0 or 1")
		names, both = append(names, `"`+string(q)+`"`), append(both, strings.Replace(string(q)+" in "+unit, " in 0 or 1", " 0 or 1", 1))
		if unit = `"` + unit + `"`; !slices.Contains(units, unit) {
			units = append(units, unit)
		}
	}
	lines := func(all []string) string { return "\n     " + strings.Join(all, ",\n     ") }
	for _, one := range []struct{ file, around, list string }{
		{"../testdata/schema/alarm-event.json", `("quantity": \{ "enum": \[)[^]]*(\])`, strings.Join(names, ", ")},
		{"../testdata/schema/alarm-event.json", `(in the unit of the quantity: )[^"]*(\.")`, strings.Join(both, ", ")},
		{"page/api/openapi.json", `("Quantity": \{\s*"type": "string",\s*"enum": \[)[^]]*?(\s*\])`, lines(names)},
		{"page/api/openapi.json", `("Unit": \{\s*"type": "string",\s*"enum": \[)[^]]*?(\s*\])`, lines(units)},
		{"page/api/openapi.json", `(Of the quantity, always the same, whatever the page shows: )[^"]*(\.")`, strings.Join(both, ", ")},
	} {
		data, err := os.ReadFile(one.file)
		if err != nil {
			t.Fatal(err)
		}
		at := regexp.MustCompile(one.around).FindSubmatchIndex(data)
		if at == nil {
			t.Fatalf("%s has no list after %s", one.file, one.around)
		}
		if string(data[at[3]:at[4]]) == one.list {
			continue
		}
		if !*rewrite {
			t.Errorf("%s: its list is %s, want %s (-rewrite writes it)", one.file, data[at[3]:at[4]], one.list)
			continue
		}
		if err := os.WriteFile(one.file, slices.Concat(data[:at[3]], []byte(one.list), data[at[4]:]), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
