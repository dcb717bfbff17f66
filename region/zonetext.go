package region

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// ErrZone is wrapped by errors about the text of a keep zone.
var ErrZone = errors.New("wrong keep zone")

// zoneForms is what ParseZone takes for each shape, for messages.
var zoneForms = [...]string{
	`"box X,Y,Z X,Y,Z"`, `"cylinder X,Y,Z axis X,Y,Z diameter D length L"`, `"ball X,Y,Z diameter D"`,
	`"half-space X,Y,Z normal X,Y,Z"`, `"stl FILE"`, `"bore near X,Y,Z"`, `"plane near X,Y,Z"`,
}

// formOf says how a zone reads that begins with a word: all forms where it
// begins none.
func formOf(first string) string {
	form := strings.Join(zoneForms[:len(zoneForms)-1], ", ") + " or " + zoneForms[len(zoneForms)-1]
	for _, f := range zoneForms {
		if strings.HasPrefix(f, `"`+first+` `) {
			form = f
		}
	}
	return form + `, then "mask" or "stock MM", "name WORDS" and "note WORDS"`
}

// OpenBody reads a closed body in mm.
type OpenBody func(path string) (*mesh.Mesh, error)

// ParseZone reads a keep zone as the command line gives it, all lengths in mm:
//
//	bore near 12,0,30 mask name bearing seat
//	cylinder 0,0,10 axis 0,0,1 diameter 8 length 20 stock 0.5 note to be reamed
//
// Without "mask" or "stock" the zone is masked. open reads the file of an
// "stl" zone; nil refuses them.
func ParseZone(text string, open OpenBody) (Zone, error) {
	w := words{text: text, rest: strings.Fields(text)}
	z := Zone{Shape: w.shape(open)}
	treated := false
	for len(w.rest) > 0 {
		switch kind := w.next(""); kind {
		case "mask", "stock":
			if treated {
				w.fail("mask and stock are said twice")
			}
			treated = true
			if kind == "mask" {
				break
			}
			if z.StockMM = w.number(); w.err == nil && !(z.StockMM > 0) {
				w.fail("stock must be above 0; use mask to leave a face as it is")
			}
		case "name":
			z.Name = w.phrase(kind)
		case "note":
			z.Note = w.phrase(kind)
		default:
			w.fail(fmt.Sprintf("%q is too much", kind))
		}
	}
	if w.err == nil {
		if err := z.Shape.check(); err != nil {
			w.fail(err.Error())
		}
	}
	return z, w.err
}

// words reads a zone's text word by word; the first error stays.
type words struct {
	text string
	rest []string
	err  error
}

func (w *words) fail(why string) {
	if w.err == nil {
		first, _, _ := strings.Cut(strings.TrimSpace(w.text), " ")
		w.err = fmt.Errorf("%w %q: %s; it reads %s", ErrZone, w.text, why, formOf(first))
	}
	w.rest = nil
}

// take consumes the word when it comes next.
func (w *words) take(word string) bool {
	if len(w.rest) == 0 || w.rest[0] != word {
		return false
	}
	w.rest = w.rest[1:]
	return true
}

// phrase consumes words up to the next that begins another part of a zone.
func (w *words) phrase(what string) string {
	n := 0
	for n < len(w.rest) && !slices.Contains(keywords[:], w.rest[n]) {
		n++
	}
	s := strings.Join(w.rest[:n], " ")
	w.rest = w.rest[n:]
	if s == "" {
		w.fail("a " + what + " must follow")
	}
	return s
}

// keywords end a name, a note and a file's name.
var keywords = [...]string{"mask", "stock", "name", "note"}

// must consumes the word or fails.
func (w *words) must(word string) {
	if w.err == nil && !w.take(word) {
		w.fail(fmt.Sprintf("%q is missing", word))
	}
}

// next consumes a word.
func (w *words) next(what string) string {
	if len(w.rest) == 0 {
		w.fail(what + " is missing")
		return ""
	}
	s := w.rest[0]
	w.rest = w.rest[1:]
	return s
}

func (w *words) number() float64 { return w.float(w.next("a number")) }

func (w *words) float(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		w.fail(fmt.Sprintf("%q is no number", s))
		return 0
	}
	return x
}

func (w *words) point() r3.Vector {
	s := w.next("a point X,Y,Z")
	p := strings.Split(s, ",")
	if len(p) != 3 {
		w.fail(fmt.Sprintf("%q is no point; give X,Y,Z without spaces", s))
		return r3.Vector{}
	}
	return r3.Vector{X: w.float(p[0]), Y: w.float(p[1]), Z: w.float(p[2])}
}

// after consumes a word and the number behind it.
func (w *words) after(word string) float64 {
	w.must(word)
	return w.number()
}

// shape reads the shape.
func (w *words) shape(open OpenBody) Shape {
	switch kind := w.next("a shape"); kind {
	case "box":
		return Box{w.point(), w.point()}
	case "cylinder":
		c := Cylinder{Middle: w.point()}
		w.must("axis")
		c.Axis = w.point()
		c.Diameter, c.Length = w.after("diameter"), w.after("length")
		return c
	case "ball":
		return Ball{w.point(), w.after("diameter")}
	case "half-space":
		p := w.point()
		w.must("normal")
		return HalfSpace{p, w.point()}
	case "stl":
		return w.body(open)
	case "bore":
		w.must("near")
		return BoreNear{w.point()}
	case "plane":
		w.must("near")
		return PlaneNear{w.point()}
	default:
		w.fail(fmt.Sprintf("%q is no shape", kind))
		return nil
	}
}

func (w *words) body(open OpenBody) Shape {
	b := &Body{File: w.phrase("file")}
	if w.err != nil {
		return b
	}
	if open == nil {
		w.fail("no file can be read here")
		return b
	}
	m, err := open(b.File)
	if err != nil {
		w.err = fmt.Errorf("%w %q: %w", ErrZone, w.text, err)
		w.rest = nil
	}
	b.Mesh = m
	return b
}
