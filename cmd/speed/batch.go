package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// lot is a folder of parts for one batch.
type lot struct {
	title string
	parts [][2]string // kinds with their cells in mm, taken in turn
	rare  [2]string   // one in rareEach parts; none when empty
	args  []string
}

const rareEach = 50

var lots = []lot{
	{
		title: "parts of about 10 thousand facets, without pictures",
		parts: [][2]string{{"smooth-bracket", "2.5"}, {"lander-bracket", "2.8"}},
		args:  []string{"--thumbnails=false"},
	},
	{
		title: "parts of 5 to 50 thousand facets, one in fifty a gyroid, with pictures",
		parts: [][2]string{
			{"smooth-bracket", "3.4"},
			{"lander-bracket", "1.29"},
			{"smooth-bracket", "1.7"},
			{"lander-bracket", "4"},
			{"smooth-bracket", "1.1"},
			{"lander-bracket", "2.5"},
			{"smooth-bracket", "2.5"},
			{"lander-bracket", "1.8"},
		},
		rare: [2]string{"gyroid-cube", "1.5"},
	},
}

// fifths is in how many stretches of a run the memory is told.
const fifths = 5

// batchUsage is what a batch took, and the most memory while each fifth of its
// parts was finished.
type batchUsage struct {
	usage
	fifth [fifths]float64 // MB, 0 where the system does not tell
}

// batches prints what batches of so many parts take with one and with two
// workers, run by turns.
func (b *bench) batches(parts int) error {
	for i, l := range lots {
		if !b.pick.MatchString("batch of " + l.title) {
			continue
		}
		dir := filepath.Join(b.work, fmt.Sprintf("lot-%d", i))
		if err := b.fill(dir, l, parts); err != nil {
			return err
		}
		fmt.Printf("\nbatch of %d %s\n%8s %9s %9s %9s   %s\n", parts, l.title, "workers", "wall s", "parts/s", "cpu s", "peak MB in each fifth of the parts")
		var all [2][]batchUsage
		for range b.runs {
			for w := range all {
				u, err := b.batch(dir, parts, w+1, l.args)
				if err != nil {
					return err
				}
				all[w] = append(all[w], u)
			}
		}
		for w, us := range all {
			m := middleBatch(us)
			fmt.Printf("%8d %9.2f %9.1f %9.2f  ", w+1, m.wall.Seconds(), float64(parts)/m.wall.Seconds(), m.cpu.Seconds())
			for _, mb := range m.fifth {
				fmt.Printf(" %4.0f", mb)
			}
			fmt.Println()
		}
		fmt.Printf("two workers do %.2f times the parts of one\n", middleBatch(all[0]).wall.Seconds()/middleBatch(all[1]).wall.Seconds())
	}
	return nil
}

// fill makes the parts of a lot.
func (b *bench) fill(dir string, l lot, parts int) error {
	if err := os.Mkdir(dir, 0o755); err != nil {
		return err
	}
	for i := range parts {
		kind := l.parts[i%len(l.parts)]
		if l.rare[0] != "" && i%rareEach == rareEach/2 {
			kind = l.rare
		}
		file, err := b.make(kind[0], kind[1], kind[1]+"mm")
		if err != nil {
			return err
		}
		// A copy, since parts may be kept on another disk.
		data, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("part-%04d.stl", i)), data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// batch runs one batch and looks at its memory while it runs.
func (b *bench) batch(dir string, parts, workers int, more []string) (batchUsage, error) {
	out := filepath.Join(b.work, "grown")
	if err := os.RemoveAll(out); err != nil {
		return batchUsage{}, err
	}
	args := append([]string{"batch", filepath.Join(dir, "*.stl"), "--out", out, "--fail-on", "never", "-q", "--workers", fmt.Sprint(workers)}, more...)
	cmd := exec.Command(b.tool, args...)
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	var u batchUsage
	start := time.Now()
	if err := cmd.Start(); err != nil {
		return u, err
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	ledger := lines{path: filepath.Join(out, "results.jsonl")}
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case err := <-ended:
			if err != nil {
				return u, fmt.Errorf("%s: %w\n%s", strings.Join(args, " "), err, said.String())
			}
			s := cmd.ProcessState
			u.usage = usage{wall: time.Since(start), cpu: s.UserTime() + s.SystemTime(), peakMB: peakMB(s)}
			return u, nil
		case <-tick.C:
			k := min(ledger.count()*fifths/parts, fifths-1)
			u.fifth[k] = max(u.fifth[k], residentMB(cmd.Process.Pid))
		}
	}
}

// lines counts the lines of a file that grows.
type lines struct {
	path string
	n    int
	at   int64
}

func (l *lines) count() int {
	f, err := os.Open(l.path)
	if err != nil {
		return l.n // not there yet
	}
	defer f.Close()
	more, err := io.ReadAll(io.NewSectionReader(f, l.at, 1<<40))
	if err == nil {
		l.n += bytes.Count(more, []byte("\n"))
		l.at += int64(len(more))
	}
	return l.n
}

// middleBatch takes the median of each figure by itself.
func middleBatch(all []batchUsage) batchUsage {
	var us []usage
	for _, u := range all {
		us = append(us, u.usage)
	}
	m := batchUsage{usage: median(us)}
	for k := range m.fifth {
		m.fifth[k] = middle(all, func(u batchUsage) float64 { return u.fifth[k] })
	}
	return m
}
