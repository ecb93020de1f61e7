package decode

import (
	"math"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Field is a part of a Read.
type Field string

// Fields.
const (
	FieldQuantity Field = "quantity" // or the Read as a whole
	FieldAt       Field = "at"
	FieldUnit     Field = "unit"
	FieldFactor   Field = "factor"
	FieldInverted Field = "inverted"
)

// Wrong is what is wrong with a part of a Read, in words that go on from its
// name: "must be ... (got ...)".
type Wrong struct {
	Field Field
	Err   error // a tongue.Saying
}

// Check returns everything that is wrong with r in payloads of form f.
func (r Read) Check(f Form) []Wrong {
	var all []Wrong
	wrong := func(field Field, err error) { all = append(all, Wrong{field, err}) }
	switch {
	case !r.Quantity.Known():
		wrong(FieldQuantity, tongue.Put("must be one of %q (got %q)", alarms.Quantities, r.Quantity))
	case r.Quantity.Derived():
		wrong(FieldQuantity, tongue.Put("is worked out from temperature and humidity; no probe may claim it"))
	}
	if f != Line && (r.Measurement != "" || len(r.Tags) > 0) {
		wrong(FieldQuantity, tongue.Put("measurement and tags are for form = \"line\" alone (the form is %q)", f))
	}
	if err := r.checkPlace(f); err != nil {
		wrong(FieldAt, err)
	}
	if r.Unit != "" {
		if _, err := unitsOf(r.Quantity).check(r.Unit); err != nil {
			wrong(FieldUnit, err)
		}
	}
	switch {
	case r.Factor != 0 && r.Quantity == alarms.Contact:
		wrong(FieldFactor, tongue.Put("must be left out: a contact has none (got %v)", r.Factor))
	case math.IsNaN(r.Factor) || math.IsInf(r.Factor, 0):
		wrong(FieldFactor, tongue.Put("must be a number such as 0.1 (got %v)", r.Factor))
	}
	if r.Inverted && r.Quantity != alarms.Contact {
		wrong(FieldInverted, tongue.Put("is for contacts alone"))
	}
	return all
}

// checkPlace returns why At says nothing of where in a payload of form f the
// value stands.
func (r Read) checkPlace(f Form) error {
	switch {
	case f == JSON:
		_, err := parsePointer(r.At)
		return err
	case f == Number && r.At != "":
		return tongue.Put("must be left out: a plain number is the whole payload (got %q)", r.At)
	case f == Number:
		return nil
	case strings.TrimSpace(r.At) == "":
		return tongue.Put("is missing: say where in the payload %s stands", r.Quantity)
	case f == SenML && checkName(r.At) != nil:
		return tongue.Put("must be a SenML name (RFC 8428): base name and name joined, of letters, digits and - : . / _, starting with a letter or digit (got %q)", r.At)
	}
	return nil
}

// Check returns why c does not suit payloads of form f, nil if it does.
func (c Clock) Check(f Form) error {
	if _, err := parsePointer(c.At); err != nil {
		return err
	}
	if c != c.For(f) {
		return tongue.Put("must be what %s can have (got the pointer %q and the unit %q)", f, c.At, c.Unit)
	}
	return nil
}
