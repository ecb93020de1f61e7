package decode

import (
	"fmt"
	"slices"

	"telltale/gateway/topic"
)

// maxTopics is how many topics met through wildcards, or claimed by nobody,
// are remembered. When it is full all of them are forgotten and matched again.
const maxTopics = 4096

// route is what a topic is decoded by.
type route struct{ parts []*part }

// router finds the route of a topic: exact topics and topics met before in a
// map, others by matching every wildcard filter once.
type router struct {
	sources []*source
	exact   map[string]*route // every topic that is a filter without wildcards
	met     map[string]*route // bounded cache; nil: claimed by nobody
	routes  map[string]*route // by the set of sources, so that topics share them
	wild    []int             // sources whose filter has wildcards
}

func newRouter(sources []*source) router {
	r := router{sources: sources, exact: map[string]*route{}, met: map[string]*route{}, routes: map[string]*route{}}
	byTopic := map[string][]int{}
	for i, s := range sources {
		if topic.Wild(s.Filter) {
			r.wild = append(r.wild, i)
		} else {
			byTopic[s.Filter] = append(byTopic[s.Filter], i)
		}
	}
	for name, own := range byTopic {
		r.exact[name] = r.build(append(own, r.matching(name)...))
	}
	return r
}

// route returns nil if no source claims topic.
func (r *router) route(topic string) *route {
	if found, ok := r.exact[topic]; ok {
		return found
	}
	if found, ok := r.met[topic]; ok {
		return found
	}
	if len(r.met) >= maxTopics {
		clear(r.met)
	}
	found := r.build(r.matching(topic))
	r.met[topic] = found
	return found
}

func (r *router) matching(name string) []int {
	var got []int
	for _, i := range r.wild {
		if topic.Matches(r.sources[i].Filter, name) {
			got = append(got, i)
		}
	}
	return got
}

// build makes the route for a set of sources: one part for each form.
func (r *router) build(set []int) *route {
	if len(set) == 0 {
		return nil
	}
	slices.Sort(set)
	key := fmt.Sprint(set)
	if known, ok := r.routes[key]; ok {
		return known
	}
	made := &route{}
	for _, form := range Forms {
		var use []*source
		for _, i := range set {
			if r.sources[i].Form == form {
				use = append(use, r.sources[i])
			}
		}
		if len(use) > 0 {
			made.parts = append(made.parts, newPart(form, use))
		}
	}
	r.routes[key] = made
	return made
}
