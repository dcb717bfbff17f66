package wholefile_test

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// A run that ends at once leaves no temporary file, and what it was writing
// does not appear afterwards; what was in place stays.
func TestAbandonedRun(t *testing.T) {
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	require.NoError(t, root.Mkdir("tmp", 0o777))
	k := &wholefile.Keeper{}
	ctx := wholefile.With(context.Background(), k)
	require.NoError(t, wholefile.Write(ctx, filepath.Join(dir, "before"), wholefile.Options{}, text("x")))
	err = wholefile.Write(ctx, filepath.Join(dir, "one"), wholefile.Options{}, func(w io.Writer) error {
		return wholefile.WriteIn(ctx, root, "tmp", "two", wholefile.Options{}, func(w io.Writer) error {
			k.Abandon()
			_, err := io.WriteString(w, "half")
			return err
		})
	})
	require.Error(t, err)
	require.Error(t, wholefile.Write(ctx, filepath.Join(dir, "after"), wholefile.Options{}, text("x")))
	require.Equal(t, []string{"before", "tmp"}, names(t, dir))
	require.Empty(t, names(t, filepath.Join(dir, "tmp")))
}

func TestWriteInStaysInside(t *testing.T) {
	outside, dir := t.TempDir(), t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	require.NoError(t, root.Mkdir("tmp", 0o777))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "link")))
	require.NoError(t, os.WriteFile(filepath.Join(outside, "theirs"), []byte("theirs"), 0o666))
	require.NoError(t, os.Symlink(filepath.Join(outside, "theirs"), filepath.Join(dir, "file")))
	ctx := context.Background()
	for _, path := range []string{"../x", "link/x", "link/sub/x", "a/../../x"} {
		err := wholefile.WriteIn(ctx, root, "tmp", path, wholefile.Options{Replace: true}, text("x"))
		require.ErrorIs(t, err, wholefile.ErrOutside, path)
	}
	require.ErrorContains(t, wholefile.WriteIn(ctx, root, "tmp", "file", wholefile.Options{Replace: true}, text("x")), "not a regular file")
	require.Equal(t, []string{"theirs"}, names(t, outside))
	b, _ := os.ReadFile(filepath.Join(outside, "theirs"))
	require.Equal(t, "theirs", string(b))

	require.NoError(t, wholefile.WriteIn(ctx, root, "tmp", "a/b/c", wholefile.Options{}, text("1")))
	require.ErrorIs(t, wholefile.WriteIn(ctx, root, "tmp", "a/b/c", wholefile.Options{}, text("2")), wholefile.ErrExists)
	require.NoError(t, wholefile.WriteIn(ctx, root, "tmp", "a/b/c", wholefile.Options{Replace: true}, text("3")))
	b, _ = os.ReadFile(filepath.Join(dir, "a", "b", "c"))
	require.Equal(t, "3", string(b))
	require.Empty(t, names(t, filepath.Join(dir, "tmp")))
}
