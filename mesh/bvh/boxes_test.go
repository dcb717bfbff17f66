package bvh

import (
	"math/rand/v2"
	"testing"
)

// Eight boxes at once are compared as one by one, touching ones and points among them.
func TestBoxesMeeting(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2))
	random := func() bounds {
		b := emptyBounds()
		for range 2 {
			p := [3]float32{float32(r.IntN(5)), float32(r.IntN(5)), float32(r.IntN(5)) - 2}
			b.add(&p, &p)
		}
		return b
	}
	const n = 50
	boxes := newFacetBoxes(n)
	for i := range n {
		b := random()
		if boxes.set(i, &b); boxes.get(i) != b {
			t.Fatalf("box %d is %v, want %v", i, boxes.get(i), b)
		}
	}
	met := 0
	for range 5000 {
		b, count := random(), 1+r.IntN(lanes)
		i := r.IntN(n - count + 1)
		got, want := boxes.meeting(i, count, &b), boxes.meetingEach(i, count, &b)
		if got != want {
			t.Fatalf("%d boxes from %d on and %v: %b meet, want %b", count, i, b, got, want)
		}
		if want != 0 {
			met++
		}
	}
	if met < 1000 || met > 4900 {
		t.Errorf("%d of 5000 meet: the boxes try too little", met)
	}
}
