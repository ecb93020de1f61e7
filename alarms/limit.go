package alarms

import "encoding/json"

// IsZero reports whether l is absent; JSON then leaves it out.
func (l Limit) IsZero() bool { return !l.Set }

// MarshalJSON writes l as a number, or as null where it is absent.
func (l Limit) MarshalJSON() ([]byte, error) {
	if !l.Set {
		return []byte("null"), nil
	}
	return json.Marshal(l.Value)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (l *Limit) UnmarshalJSON(b []byte) error {
	var v *float64
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	*l = Limit{}
	if v != nil {
		*l = At(*v)
	}
	return nil
}
