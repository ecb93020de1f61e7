package gateway

import (
	"context"
	"net/url"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config/forms"
	"telltale/gateway/page"
)

// Things implements page.Changes.
func (f *first) Things(in tongue.Tongue) ([]forms.Thing, error) {
	d, err := f.open()
	if err != nil {
		return nil, err
	}
	return forms.Things(d, in), nil
}

// Form implements page.Changes.
func (f *first) Form(in tongue.Tongue, at string) (form forms.Form, ok bool, err error) {
	d, err := f.open()
	if err != nil {
		return form, false, err
	}
	form, ok = forms.Of(d, in, at)
	return form, ok, nil
}

// Fill implements page.Changes.
func (f *first) Fill(in tongue.Tongue, at string, v url.Values) (out forms.Filled, ok bool, err error) {
	d, err := f.open()
	if err != nil {
		return out, false, err
	}
	form, ok := forms.Of(d, in, at)
	if !ok {
		return out, false, nil
	}
	return forms.Fill(d, form, v), true, nil
}

// Change implements page.Changes.
func (f *first) Change(_ context.Context, in tongue.Tongue, at string, v url.Values, mark, by string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, err := f.open()
	if err != nil {
		return err
	}
	form, ok := forms.Of(d, in, at)
	if !ok || d.Mark() != mark {
		return page.ErrFirstChanged
	}
	if out := forms.Fill(d, form, v); out.Wrong() {
		return &page.FirstRefused{Problems: walk.Each(out.Problems, tongue.Bare)}
	}
	if err := f.save(d); err != nil {
		return err
	}
	f.log.Info().Str("file", f.set.File).Str("what", at).Str("by", by).Msg("the configuration was changed on the page")
	f.set.Reload()
	return nil
}

var _ page.Changes = (*first)(nil)
