package memory

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"strings"
)

// Need is what a part is expected to take.
type Need struct {
	Facets int64 // about
	Bytes  int64 // about, at the peak
}

// Wish says what is to be done with a part.
type Wish struct {
	Pictures bool // the report with its pictures
	Field    bool // the bath's field
	Quick    bool // nothing is checked
}

// Bytes of memory a facet of the input takes at the peak, and what every part
// takes. Seen on whole commands: 1,400 a facet on parts of 20,000 to 40,000 facets,
// 560 on a smooth part of 517,000, and on larger ones MB of memory by facets: 650 by
// 1.0 million, 1,360 by 2.1, 2,870 by 5.0, 18,100 by 20.8, lattices the second and the
// last, whose struts meet while they grow. A lattice whose beams all cross took
// 10,000: for such the watch is there. Pictures took 68 to 71 MB more on parts of
// 10,000 and 49,000 facets, 103 MB on 517,000 and 143 to 153 MB on a million when
// nothing was checked, and less where checking had taken more before.
const (
	baseBytes     = 24 << 20
	perFacet      = 1500
	manyFacets    = 200_000
	perFacetMore  = 880 // of those beyond so many
	perFacetQuick = 300 // 90 to 105 seen without pictures
	pictureBytes  = 80 << 20
	perFacetDrawn = 100
	fieldBytes    = 200 << 20
	perFacetField = 4000
)

// Of returns what a part with so many facets takes.
func Of(facets int64, w Wish) Need {
	few := min(facets, manyFacets)
	n := Need{Facets: facets, Bytes: baseBytes + few*perFacet + (facets-few)*perFacetMore}
	if w.Quick {
		n.Bytes = baseBytes + facets*perFacetQuick
	}
	if w.Pictures {
		n.Bytes += pictureBytes + facets*perFacetDrawn
	}
	if w.Field {
		n.Bytes += fieldBytes + facets*perFacetField
	}
	return n
}

// Bytes of a file that one facet takes, about, by format.
const (
	stlBinaryFacet = 50
	stlASCIIFacet  = 240 // three corners and a normal of 8 digits: 200 to 280
	objFacet       = 45  // half a vertex and one line; normals make it twice that
	offFacet       = 40
	plyBinaryFacet = 19 // half a vertex of 12 bytes and 13 bytes
	plyASCIIFacet  = 30
	modelFacet     = 80 // of the unpacked model of a 3MF file
)

// Facets estimates from a file's first bytes and size how many facets it holds.
// It reads no more than that, and of a 3MF file the list of its entries.
func Facets(f *os.File, size int64) (int64, error) {
	head := make([]byte, 512)
	n, err := f.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return 0, err
	}
	head = head[:n]
	switch {
	case bytes.HasPrefix(head, []byte("PK")):
		return modelFacets(f, size), nil
	case bytes.HasPrefix(head, []byte("ply")):
		if bytes.Contains(head, []byte("format ascii")) {
			return size / plyASCIIFacet, nil
		}
		return size / plyBinaryFacet, nil
	case len(head) >= 84 && int64(binary.LittleEndian.Uint32(head[80:]))*stlBinaryFacet == size-84, bytes.IndexByte(head, 0) >= 0:
		return size / stlBinaryFacet, nil
	case bytes.HasPrefix(bytes.TrimSpace(bytes.ToLower(head)), []byte("solid")):
		return size / stlASCIIFacet, nil
	case bytes.HasPrefix(head, []byte("OFF")):
		return size / offFacet, nil
	}
	return size / objFacet, nil
}

func modelFacets(f *os.File, size int64) int64 {
	z, err := zip.NewReader(f, size)
	if err != nil {
		return size // the reader will tell what is wrong
	}
	total := uint64(0)
	for _, e := range z.File {
		if strings.HasSuffix(strings.ToLower(e.Name), ".model") {
			// Text of this kind packs no better than 1 to 40; more is a claim that the reader refuses.
			total += min(e.UncompressedSize64, 40*e.CompressedSize64)
		}
	}
	return int64(total / modelFacet)
}
