package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/batch"
	"skinstock/cmd/skinstock/internal/console"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// program returns the command as a process of its own, which can be killed.
func program(t testing.TB, args ...string) *exec.Cmd {
	t.Helper()
	exe, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), exe)
	cmd.Args = append([]string{"skinstock"}, args...) // the test binary does as its name says
	return cmd
}

// finish runs a command to its end and returns exit code and standard error.
func finish(t testing.TB, cmd *exec.Cmd) (code int, stderr string) {
	t.Helper()
	var b bytes.Buffer
	cmd.Stderr = &b
	err := cmd.Run()
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		require.NoError(t, err)
	}
	return cmd.ProcessState.ExitCode(), b.String()
}

// balls writes n balls of different sizes, of 1,280 facets each, into a new
// folder, and a job file beside them.
func balls(t testing.TB, n int) (jobs string) {
	t.Helper()
	dir := t.TempDir()
	for i := range n {
		var b bytes.Buffer
		require.NoError(t, stl.WriteBinary(&b, solid.Icosphere(3+float64(i)/4, 3), "ball"))
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("ball-%02d.stl", i)), b.Bytes(), 0o666))
	}
	jobs = filepath.Join(dir, "jobs.yaml")
	require.NoError(t, os.WriteFile(jobs, []byte("version: 1\nparts: [\"*.stl\"]\n"), 0o666))
	return jobs
}

// tree returns what a folder shows: the files outside of the program's own folder.
func tree(t testing.TB, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			if d != nil && d.Name() == ".skinstock" {
				return fs.SkipDir
			}
			return err
		}
		data, err := os.ReadFile(path)
		files[strings.TrimPrefix(path, dir+"/")] = string(data)
		return err
	}))
	return files
}

// sameTree compares folders without printing their bytes.
func sameTree(t testing.TB, want, got map[string]string) {
	t.Helper()
	for name, data := range want {
		require.Contains(t, got, name)
		require.Truef(t, got[name] == data, "%s differs", name)
	}
	require.Len(t, got, len(want))
}

// onlyParts leaves the files of parts, which are the same whenever they are there:
// the lists over all parts come last.
func onlyParts(files map[string]string) map[string]string {
	out := map[string]string{}
	for name, data := range files {
		if name != "results.jsonl" && name != "summary.csv" && name != "index.html" {
			out[name] = data
		}
	}
	return out
}

// wholeParts checks that every file of a part that is there is the one of the reference.
func wholeParts(t testing.TB, reference map[string]string, dir string) {
	t.Helper()
	for name, data := range onlyParts(tree(t, dir)) {
		require.Contains(t, reference, name)
		require.Truef(t, reference[name] == data, "%s is not whole", name)
	}
}

// unfinished returns the temporary files that are left in a folder.
func unfinished(t testing.TB, dir string) []string {
	t.Helper()
	var left []string
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".part") {
			left = append(left, path)
		}
		return err
	}))
	return left
}

// reference does a batch in one go and returns what it leaves.
func reference(t testing.TB, jobs string) map[string]string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out")
	code, _, stderr := runHere(t, "batch", jobs, "--out", out, "--workers", "1")
	require.Equal(t, exitDone, code, stderr)
	return tree(t, out)
}

func TestBatchDoesNotDependOnTheWorkers(t *testing.T) {
	jobs := balls(t, 7)
	want := reference(t, jobs)
	for _, workers := range []string{"2", "7"} {
		out := filepath.Join(t.TempDir(), "out")
		code, _, stderr := runHere(t, "batch", jobs, "--out", out, "--workers", workers)
		require.Equal(t, exitDone, code, stderr)
		sameTree(t, want, tree(t, out))
	}
}

// A part of a batch comes out as compensate alone makes it, but for its name in the report.
func TestBatchDoesWhatCompensateDoes(t *testing.T) {
	jobs := balls(t, 1)
	batched := reference(t, jobs)["ball-00-grown.stl"]
	alone := filepath.Join(t.TempDir(), "alone.stl")
	code, _, stderr := runHere(t, "compensate", filepath.Join(filepath.Dir(jobs), "ball-00.stl"), "-o", alone)
	require.Equal(t, exitDone, code, stderr)
	data, err := os.ReadFile(alone)
	require.NoError(t, err)
	require.True(t, string(data) == batched)
}

func TestSharesMakeTheWhole(t *testing.T) {
	jobs := balls(t, 10)
	want := reference(t, jobs)
	out := filepath.Join(t.TempDir(), "out")

	var shares []*exec.Cmd
	for i := range 4 {
		cmd := program(t, "batch", jobs, "--out", out, "--workers", "1")
		cmd.Env = append(os.Environ(), "SLURM_ARRAY_TASK_ID="+fmt.Sprint(10+i), "SLURM_ARRAY_TASK_COUNT=4", "SLURM_ARRAY_TASK_MIN=10", "SLURM_ARRAY_TASK_MAX=13")
		if i == 3 { // and one the way of an indexed job
			cmd = program(t, "batch", jobs, "--out", out, "--workers", "1", "--shards", "4", "--resume")
			cmd.Env = append(os.Environ(), "JOB_COMPLETION_INDEX=3")
		}
		shares = append(shares, cmd)
	}
	for _, s := range shares[:3] {
		require.NoError(t, s.Start())
	}
	for _, s := range shares[:3] {
		require.NoError(t, s.Wait())
	}
	wholeParts(t, want, out)

	code, _, stderr := runHere(t, "batch", jobs, "--out", out, "--collect")
	require.Equal(t, exitOutput, code)
	require.Contains(t, stderr, "no result yet: run the batch again with --resume")

	require.NoError(t, shares[3].Run())
	code, _, stderr = runHere(t, "batch", jobs, "--out", out, "--collect")
	require.Equal(t, exitDone, code, stderr)
	sameTree(t, want, tree(t, out))

	// Once collected, a damaged file is found.
	require.NoError(t, os.WriteFile(filepath.Join(out, "ball-03-grown.stl"), []byte("solid"), 0o666))
	code, _, stderr = runHere(t, "batch", jobs, "--out", out, "--collect")
	require.Equal(t, exitOutput, code)
	require.Contains(t, stderr, "ball-03.stl: its files are not as they were written")
}

func TestUnusualNames(t *testing.T) {
	dir := t.TempDir()
	var ball bytes.Buffer
	require.NoError(t, stl.WriteBinary(&ball, solid.Icosphere(3, 1), "ball"))
	long := strings.Repeat("l", 251) + ".stl" // 255 bytes, the most that file systems take
	names := []string{"a b.stl", "line\nend.stl", "-o.stl", "--force.stl", "byte\xff.stl", "=1+1.stl", "<b>&\"'.stl", "tab\t.stl", "*.stl", "\u202etxt.stl", long}
	for _, n := range names {
		require.NoError(t, os.WriteFile(filepath.Join(dir, n), ball.Bytes(), 0o666))
	}
	jobs := filepath.Join(dir, "jobs.yaml")
	require.NoError(t, os.WriteFile(jobs, []byte("version: 1\ndefaults: {output: '{part}.stl', json: ''}\nparts: ['*.*', '*.stl']\n"), 0o666))
	// One entry is a file of the name *.stl; the pattern *.* matches the job file too.
	code, _, stderr := runHere(t, "batch", jobs, "--out", filepath.Join(dir, "out"))
	require.Equal(t, exitInput, code, stderr)
	require.Equal(t, 1, strings.Count(stderr, "jobs.yaml: failed"), stderr)
	require.Equal(t, len(names)+2, strings.Count(stderr, "\n"), "one line a part and one for the failure: %s", stderr)
	require.NotContains(t, stderr, "\xff")
	require.NotContains(t, stderr, "\u202e")
	for _, n := range names {
		require.FileExists(t, filepath.Join(dir, "out", n))
	}
	results, err := os.ReadFile(filepath.Join(dir, "out", "results.jsonl"))
	require.NoError(t, err)
	var raw []string
	for line := range strings.Lines(string(results)) {
		var r batch.Record
		require.NoError(t, json.Unmarshal([]byte(line), &r))
		if r.PartBytes != nil {
			raw = append(raw, string(r.PartBytes))
		}
	}
	require.Equal(t, []string{"byte\xff.stl"}, raw)
	summary, err := os.ReadFile(filepath.Join(dir, "out", "summary.csv"))
	require.NoError(t, err)
	require.Contains(t, string(summary), "\n'=1+1.stl,done,")
	page, err := os.ReadFile(filepath.Join(dir, "out", "index.html"))
	require.NoError(t, err)
	require.Contains(t, string(page), "&lt;b&gt;&amp;")
	require.Contains(t, string(page), `href="./byte%FF.stl"`)

	// All are known again.
	code, stdout, _ := runHere(t, "batch", jobs, "--out", filepath.Join(dir, "out"), "--resume")
	require.Equal(t, exitInput, code)
	require.Contains(t, stdout, fmt.Sprintf("%d of them were finished before", len(names)))

	// Where an output's name would be too long the part says so, and what helps.
	code, _, stderr = runHere(t, "batch", filepath.Join(dir, long), filepath.Join(dir, "a b.stl"), "--out", filepath.Join(dir, "out2"))
	require.Equal(t, exitOutput, code, stderr)
	require.Contains(t, stderr, "file name too long; name its outputs with output: and json: in a job file")
	require.FileExists(t, filepath.Join(dir, "out2", "a b-grown.stl"))
}

func TestMemoryLimitRefusesAPart(t *testing.T) {
	jobs := balls(t, 2)
	ball := filepath.Join(filepath.Dir(jobs), "ball-00.stl")
	out := filepath.Join(t.TempDir(), "out")
	code, stdout, stderr := runHere(t, "batch", jobs, "--out", out, "--max-memory", "20M")
	require.Equal(t, exitInput, code)
	require.Contains(t, stdout, "2 failed")
	require.Contains(t, stderr, "ball-00.stl: the part needs about 25.8 MiB of memory, the limit is 20 MiB: run it on a larger machine")
	require.Empty(t, onlyParts(tree(t, out)))
	code, _, stderr = runHere(t, "compensate", ball, "-o", filepath.Join(t.TempDir(), "x.stl"), "--max-memory", "20M")
	require.Equal(t, exitInput, code)
	require.Contains(t, stderr, "the part needs about 25.8 MiB of memory")
	code, _, stderr = runHere(t, "compensate", ball, "--max-memory", "lots")
	require.Equal(t, exitUsage, code)
	require.Contains(t, stderr, "--max-memory: \"lots\": give a size such as 8G")
}

func TestEndedContextStopsABatch(t *testing.T) {
	jobs := balls(t, 3)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	j, err := batch.ParseJobs("jobs", []byte("version: 1\nparts: ['*.stl']\n"))
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "out")
	_, err = batch.Run(ctx, batch.Config{
		Jobs: j, Dir: filepath.Dir(jobs), Out: out, Shard: batch.Whole, Workers: 1, CodeOf: codeOf,
		Prepare: func(batch.Part) (batch.Order, error) { return nil, errors.New("not asked") }, Reporter: silent{},
	})
	require.ErrorIs(t, err, context.Canceled)
	require.NoFileExists(t, filepath.Join(out, "summary.csv"))
}

// A part that was there when the run began and is gone when its turn comes fails
// alone; once it is back the run goes on and leaves what it would have left.
func TestInputVanishesDuringARun(t *testing.T) {
	jobs := balls(t, 3)
	want := reference(t, jobs)
	gone := filepath.Join(filepath.Dir(jobs), "ball-01.stl")
	data, err := os.ReadFile(gone)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "out")
	con := &console.Console{In: strings.NewReader(""), Out: io.Discard, Err: io.Discard}
	a, _ := newRoot(con)
	j, err := batch.ParseJobs("jobs", []byte("version: 1\nparts: ['*.stl']\n"))
	require.NoError(t, err)
	s, err := batch.Run(t.Context(), batch.Config{
		Jobs: j, Dir: filepath.Dir(jobs), Out: out, Shard: batch.Whole, Workers: 1, Version: version(), CodeOf: codeOf, ReportFiles: reportFiles[:],
		Prepare: newPreparer(a, filepath.Dir(jobs)).prepare, Reporter: taking{t, gone},
	})
	require.NoError(t, err)
	require.Equal(t, exitInput, s.Worst)
	require.Equal(t, "ball-01.stl: no such file or directory", s.Records[1].Error)
	require.Equal(t, batch.Done, s.Records[0].Outcome)
	require.Equal(t, batch.Done, s.Records[2].Outcome)
	wholeParts(t, want, out)
	require.Empty(t, unfinished(t, out))

	require.NoError(t, os.WriteFile(gone, data, 0o666))
	code, _, stderr := runHere(t, "batch", jobs, "--out", out, "--resume")
	require.Equal(t, exitDone, code, stderr)
	sameTree(t, want, tree(t, out))
}

// taking removes a file once the parts are known.
type taking struct {
	t    *testing.T
	file string
}

func (k taking) Start(int, int64)                  { require.NoError(k.t, os.Remove(k.file)) }
func (taking) Finished(*batch.Record, int64, bool) {}

type silent struct{}

func (silent) Start(int, int64)                    {}
func (silent) Finished(*batch.Record, int64, bool) {}
