package wholefile_test

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/wholefile"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	es, err := os.ReadDir(dir)
	require.NoError(t, err)
	var n []string
	for _, e := range es {
		n = append(n, e.Name())
	}
	return n
}

func TestWriteAppearsWholeOrNotAtAll(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, "out.stl")

	boom := errors.New("boom")
	err := wholefile.Write(ctx, path, wholefile.Options{}, func(w io.Writer) error {
		_, _ = io.WriteString(w, "half")
		return boom
	})
	require.ErrorIs(t, err, boom)
	require.Empty(t, names(t, dir))

	require.NoError(t, wholefile.Write(ctx, path, wholefile.Options{}, text("one")))
	require.Equal(t, []string{"out.stl"}, names(t, dir))

	require.ErrorIs(t, wholefile.Write(ctx, path, wholefile.Options{}, text("two")), wholefile.ErrExists)
	b, _ := os.ReadFile(path)
	require.Equal(t, "one", string(b))

	require.NoError(t, wholefile.Write(ctx, path, wholefile.Options{Replace: true}, text("three")))
	b, _ = os.ReadFile(path)
	require.Equal(t, "three", string(b))
	require.Equal(t, []string{"out.stl"}, names(t, dir))
}

func TestInputIsNeverReplaced(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in.stl")
	require.NoError(t, os.WriteFile(in, []byte("part"), 0o644))
	link := filepath.Join(dir, "link.stl")
	require.NoError(t, os.Symlink(in, link))
	for _, path := range []string{in, link, filepath.Join(dir, ".", "in.stl")} {
		err := wholefile.Write(context.Background(), path, wholefile.Options{Replace: true, Inputs: []string{in}}, text("x"))
		require.ErrorIs(t, err, wholefile.ErrIsInput, path)
	}
	b, _ := os.ReadFile(in)
	require.Equal(t, "part", string(b))
}

func TestFileAppearingMeanwhileIsKept(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out")
	err := wholefile.Write(context.Background(), path, wholefile.Options{}, func(w io.Writer) error {
		return os.WriteFile(path, []byte("theirs"), 0o644)
	})
	require.ErrorIs(t, err, wholefile.ErrExists)
	b, _ := os.ReadFile(path)
	require.Equal(t, "theirs", string(b))
	require.Equal(t, []string{"out"}, names(t, dir))
}

func TestEndedContextLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	err := wholefile.Write(ctx, filepath.Join(dir, "out"), wholefile.Options{}, func(w io.Writer) error {
		cancel()
		_, err := w.Write(make([]byte, 1<<20))
		return err
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Empty(t, names(t, dir))
}

func TestMissingFolderIsNamed(t *testing.T) {
	err := wholefile.Write(context.Background(), filepath.Join(t.TempDir(), "no", "out"), wholefile.Options{}, text("x"))
	require.ErrorIs(t, err, os.ErrNotExist)
	require.ErrorContains(t, err, "cannot write here")
}

func TestNewFileIsReadableByOthers(t *testing.T) {
	dir := t.TempDir()
	mine, theirs := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	require.NoError(t, wholefile.Write(context.Background(), mine, wholefile.Options{}, text("x")))
	f, err := os.Create(theirs)
	require.NoError(t, err)
	f.Close()
	a, _ := os.Stat(mine)
	b, _ := os.Stat(theirs)
	require.Equal(t, b.Mode(), a.Mode())
}
