package ply

import (
	"encoding/binary"
	"errors"
	"math"

	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// textSource reads values as words.
type textSource struct{ s *scan.Scanner }

func (t *textSource) word() ([]byte, error) {
	w, err := t.s.Word()
	switch {
	case errors.Is(err, scan.ErrLongWord):
		return nil, fail(file.ErrSyntax, file.Export, "found %v", err)
	case err != nil:
		return nil, err
	case w == nil:
		return nil, errEnd
	}
	return w, nil
}

func (t *textSource) number(k kind) (float64, error) {
	w, err := t.word()
	if err != nil {
		return 0, err
	}
	v, ok := float64(0), false
	if k == float32s {
		var f float32
		f, ok = scan.Float32(w) // rounded once
		v = float64(f)
	} else {
		v, ok = scan.Float64(w)
	}
	if !ok || k < float32s && v-v != 0 {
		return 0, fail(file.ErrNumber, file.Export, "found %s where a number belongs", file.Quote(w))
	}
	return v, nil
}

func (t *textSource) skip(_ kind, n int64) error {
	for ; n > 0; n-- {
		if _, err := t.word(); err != nil {
			return err
		}
	}
	return nil
}

// binarySource reads values of either byte order.
type binarySource struct {
	s     *scan.Scanner
	order binary.ByteOrder
}

func newBinarySource(s *scan.Scanner, f form) *binarySource {
	if f == bigEndian {
		return &binarySource{s, binary.BigEndian}
	}
	return &binarySource{s, binary.LittleEndian}
}

func (b *binarySource) number(k kind) (float64, error) {
	n := kindSize[k]
	w := b.s.Window()
	if len(w) < n {
		if w = b.s.Peek(n); len(w) < n {
			return 0, b.end()
		}
	}
	var v float64
	switch k {
	case int8s:
		v = float64(int8(w[0]))
	case uint8s:
		v = float64(w[0])
	case int16s:
		v = float64(int16(b.order.Uint16(w)))
	case uint16s:
		v = float64(b.order.Uint16(w))
	case int32s:
		v = float64(int32(b.order.Uint32(w)))
	case uint32s:
		v = float64(b.order.Uint32(w))
	case float32s:
		v = float64(math.Float32frombits(b.order.Uint32(w)))
	case float64s:
		v = math.Float64frombits(b.order.Uint64(w))
	}
	b.s.Skip(n)
	return v, nil
}

func (b *binarySource) skip(k kind, n int64) error {
	for n *= int64(kindSize[k]); n > 0; {
		have := min(n, int64(len(b.s.Window())))
		b.s.Skip(int(have))
		n -= have
		if n > 0 && !b.s.Fill() {
			return b.end()
		}
	}
	return nil
}

// end tells why there is nothing more to read.
func (b *binarySource) end() error {
	if err := b.s.Err(); err != nil {
		return err
	}
	return errEnd
}
