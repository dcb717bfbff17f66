package stl

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
)

// seed adds the small cases and the small real meshes.
func seed(f *testing.F) {
	for _, tt := range smallCases() {
		f.Add(tt.data, true)
		f.Add(tt.data, false)
	}
	files, _ := filepath.Glob(filepath.Join(meshtest.Root(f), "..", "shared", "meshes", "*.stl"))
	for _, path := range files {
		if st, err := os.Stat(path); err != nil || st.Size() > 20000 {
			continue
		}
		if data, err := os.ReadFile(path); err == nil {
			f.Add(data, true)
		}
	}
}

// FuzzRead reads anything: no panic, one plain line for what is refused,
// memory in proportion, and what is accepted survives both forms of writing.
func FuzzRead(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, data []byte, sized bool) {
		size := int64(-1)
		if sized {
			size = int64(len(data))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		file, err := Read(bytes.NewReader(data), size, Options{})
		runtime.ReadMemStats(&after)
		// The window, and for a text of empty solids, the worst case, 40 bytes
		// for every 15 with the copies of a growing slice.
		if got, most := after.TotalAlloc-before.TotalAlloc, uint64(1<<20+40*len(data)); got > most {
			t.Errorf("%d bytes allocated for %d", got, len(data))
		}
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Unwrap() == nil || strings.ContainsAny(err.Error(), "\n\r\x00") || len(err.Error()) > 400 {
				t.Errorf("error %q is no plain line", err)
			}
			return
		}
		if len(file.Soup.Corners) == 0 {
			t.Fatal("no facets and no error")
		}
		checkSolids(t, &file.Soup)
		roundTrip(t, file)
	})
}

// checkSolids fails unless the solids cover the facets in order.
func checkSolids(t *testing.T, s *mesh.Soup) {
	next := 0
	for _, run := range s.Solids {
		if run.First != next || run.Count < 0 {
			t.Fatalf("solids %v", s.Solids)
		}
		next += run.Count
	}
	if s.Solids != nil && next != len(s.Corners) || s.Attributes != nil && len(s.Attributes) != len(s.Corners) {
		t.Fatalf("%d facets, solids %v, %d attribute words", len(s.Corners), s.Solids, len(s.Attributes))
	}
}

// roundTrip writes a file in both forms and reads it again.
func roundTrip(t *testing.T, file *File) {
	m := unwelded(&file.Soup)
	var bin, txt bytes.Buffer
	if err := errors.Join(WriteBinary(&bin, m, string(file.Header[:])), WriteASCII(&txt, m, "")); err != nil {
		t.Fatal(err)
	}
	size := int64(bin.Len())
	b, err := Read(&bin, size, Options{})
	if err != nil {
		t.Fatalf("binary: %v", err)
	}
	if !slices.Equal(b.Soup.Corners, file.Soup.Corners) || !slices.Equal(b.Soup.Attributes, file.Soup.Attributes) || len(b.Warnings) > 0 {
		t.Errorf("binary: other facets, or warnings %v", b.Warnings)
	}
	a, err := Read(&txt, -1, Options{})
	if err != nil {
		t.Fatalf("ascii: %v", err)
	}
	if !slices.Equal(a.Soup.Corners, file.Soup.Corners) {
		t.Error("ascii: other facets")
	}
	if len(a.Soup.Solids) != len(file.Soup.Solids) {
		t.Fatalf("solids %+v, were %+v", a.Soup.Solids, file.Soup.Solids)
	}
	for i, s := range a.Soup.Solids {
		if want := file.Soup.Solids[i]; s.First != want.First || s.Count != want.Count || s.Name != writableName(want.Name) {
			t.Errorf("solid %+v, was %+v", s, want)
		}
	}
}
