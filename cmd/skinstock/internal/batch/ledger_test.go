package batch

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func line(t testing.TB, name string, code int) string {
	t.Helper()
	r := newRecord(Part{Name: name, Settings: Settings{Output: name + ".out"}})
	r.ExitCode, r.Outcome = code, outcomeOf(code)
	b, err := jsonLine(r)
	require.NoError(t, err)
	return string(b)
}

// What a crash tore is passed over, and cut off before the next line is added.
func TestTornLines(t *testing.T) {
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	path := filepath.Join(dir, resultsName)
	whole := line(t, "a", 0) + line(t, "b\xff\n", 1)
	for cut := 1; cut < len(line(t, "c", 0)); cut++ {
		require.NoError(t, os.WriteFile(path, []byte(whole+line(t, "c", 0)[:cut]), 0o666))
		a, err := openAppender(root, resultsName)
		require.NoError(t, err)
		require.NoError(t, a.add([]byte(line(t, "d", 3))))
		a.close()
		got, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, whole+line(t, "d", 3), string(got), "cut at %d", cut)
	}
	records := map[string]*Record{}
	text := "\x00\x00\x00\n" + whole + "{}\nnull\n[]\n" + strings.Repeat("x", 2*maxRecord) + "\n" + line(t, "a", 3) + line(t, "c", 0)[:20]
	require.NoError(t, readRecords(strings.NewReader(text), records))
	require.Len(t, records, 2)
	require.Equal(t, Failed, records["a.out\x00a"].Outcome, "the last word counts")
	require.Equal(t, "b\xff\n", records["b\xff\n.out\x00b\xff\n"].name())
}

func FuzzReadRecords(f *testing.F) {
	f.Add([]byte(line(f, "a", 0) + line(f, "b\xff", 3)))
	f.Add([]byte("{\"schema\":\"skinstock/batch/v1\",\"part\":1}\n\n\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		records := map[string]*Record{}
		if err := readRecords(strings.NewReader(string(data)), records); err != nil {
			t.Fatal(err)
		}
		for id, r := range records {
			if r.id() != id {
				t.Fatalf("record %q stands under %q", r.id(), id)
			}
		}
	})
}

func TestSummaryOfFailures(t *testing.T) {
	var b strings.Builder
	r := newRecord(Part{Name: "=x"})
	r.Outcome, r.ExitCode, r.Error = Failed, 3, "=x: no, \"never\""
	require.NoError(t, WriteSummary(&b, []*Record{r}))
	lines := strings.Split(b.String(), "\n")
	require.Equal(t, strings.Join(summaryHead, ","), lines[0])
	require.Equal(t, `'=x,failed,3,"'=x: no, ""never"""`+strings.Repeat(",", len(summaryHead)-4), lines[1])
}
