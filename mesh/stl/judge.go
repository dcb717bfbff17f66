package stl

import (
	"bytes"
	"encoding/binary"

	"skinstock/mesh/internal/scan"
)

// looks is what the first bytes of a file look like.
type looks int

const (
	noText    looks = iota
	textSTL         // text that begins as an ASCII STL file does
	textOther       // text of another kind
	textWide        // text in UTF-16
)

// sizeFits tells whether the file has exactly the size that its header calls
// for as a binary file. No text can: the count would be four bytes of text,
// which calls for gigabytes.
func sizeFits(head []byte, size int64) bool {
	if len(head) < headerSize {
		return false
	}
	return size == headerSize+recordSize*int64(binary.LittleEndian.Uint32(head[80:]))
}

// judge looks at the first bytes of a file, whole when that is all of it.
//
// "solid" alone proves nothing: many programs begin the header of a binary
// file with it. But a binary file below 16 million facets has a zero byte at
// offset 83, and larger ones have zero bytes all over, where text has none.
func judge(head []byte, whole bool) looks {
	if len(head) >= 2 && (head[0] == 0xFF && head[1] == 0xFE || head[0] == 0xFE && head[1] == 0xFF) {
		if bytes.IndexByte(head[:min(len(head), headerSize)], 0) >= 0 {
			return textWide
		}
	}
	if whole {
		head = bytes.TrimRight(head, "\x00\x1A") // padding of old systems
		if len(head) == 0 {
			return noText
		}
	}
	if bytes.IndexByte(head[:min(len(head), 512)], 0) >= 0 {
		return noText
	}
	s := scan.New(bytes.NewReader(bytes.TrimPrefix(head, byteOrderMark)), int64(len(head)))
	w, _ := s.Word()
	if scan.EqualFold(w, "solid") || scan.EqualFold(w, "facet") {
		return textSTL
	}
	for _, c := range head {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != '\v' || c == 0x7F {
			return noText
		}
	}
	return textOther
}

var byteOrderMark = []byte("\xEF\xBB\xBF")
