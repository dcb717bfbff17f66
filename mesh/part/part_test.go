package part

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// ball is an STL file larger than what is read ahead.
func ball(t testing.TB) []byte {
	var b bytes.Buffer
	require.NoError(t, stl.WriteBinary(&b, solid.Icosphere(5, 6), "ball"))
	require.Greater(t, b.Len(), 3*aheadBlocks*aheadSize)
	return b.Bytes()
}

// However the bytes come, the part and the digest are those of the file.
func TestReadDigestsAllBytes(t *testing.T) {
	data := append(ball(t), "some bytes behind the last facet"...)
	want := sha256.Sum256(data)
	for name, r := range map[string]io.Reader{
		"whole": bytes.NewReader(data), "halves": iotest.HalfReader(bytes.NewReader(data)), "end with data": iotest.DataErrReader(bytes.NewReader(data)),
	} {
		p, err := Read(name, r, -1, Options{})
		require.NoError(t, err)
		require.Equal(t, hex.EncodeToString(want[:]), p.SHA256)
		require.Equal(t, 20<<12, p.Triangles)
		require.Len(t, p.Shells, 1)
		require.True(t, p.Topo.Closed())
	}
}

// A file that fails half way ends with its error; one that yields nothing ends too.
func TestReadEndsWithTheFilesError(t *testing.T) {
	broken := errors.New("broken")
	data := ball(t)
	_, err := Read("x", io.MultiReader(bytes.NewReader(data[:len(data)/2]), iotest.ErrReader(broken)), int64(len(data)), Options{})
	require.ErrorIs(t, err, broken)
	_, err = Read("x", idle{}, -1, Options{})
	require.ErrorIs(t, err, io.ErrNoProgress)
}

type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }

func BenchmarkRead(b *testing.B) {
	data := ball(b)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		_, err := Read("ball", bytes.NewReader(data), int64(len(data)), Options{})
		require.NoError(b, err)
	}
}
