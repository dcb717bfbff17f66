package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/batch"
	"skinstock/cmd/skinstock/internal/console"
)

// batchFlags are the flags of batch.
type batchFlags struct {
	partFlags  // for parts named on the command line
	out        string
	output     string
	report     string
	verify     string
	thumbnails bool

	resume  bool
	shard   string
	shards  int
	collect bool
}

const jobFileExample = `A job file is strict YAML:

  version: 1
  defaults:
    recipe: ti-6al-4v-30
    output: "{part}-grown.3mf"
  parts:
    - part: brackets/**/*.stl
      except: ["**/*-old.stl"]
    - part: nozzle.stl
      recipe: nozzle.yaml
      build_dir: -y
      units: inch
      keep: ["bore near 10,0,5 mask"]

Names are relative to the job file, outputs to --out, which no output leaves.
{part} stands for the part's path without its ending.

` + keepHelp

func (a *app) batchCommand() *cobra.Command {
	var p batchFlags
	cmd := &cobra.Command{
		Use:   "batch JOBS.yaml | PART... --out DIR",
		Short: "Do many parts as compensate does one, on one machine or shared out over many",
		Long: `batch does what compensate does for every part of a job file, or for parts and
patterns named on the command line, each as if it were alone: a part that fails
stops no other. Into DIR go the grown parts, a report of each as JSON,
results.jsonl with a line for each part, summary.csv and index.html.

A run that was stopped goes on with --resume: parts whose content, recipe,
settings and program are as before, and whose files are intact, are not done
again. As the task of an array, batch takes its share of the parts from the
scheduler or from --shard i/n; 'batch --collect' then brings the shares together.
'skinstock batch template' prints scripts for two schedulers.

The exit code is the highest that any part came to.

` + jobFileExample,
		Example: `  skinstock batch jobs.yaml --out grown
  skinstock batch 'lot-7/*.stl' --out grown --recipe 316l-40 --resume
  skinstock batch jobs.yaml --out grown --shard 2/4
  skinstock batch jobs.yaml --out grown --collect`,
		Args: needsSome("JOBS.yaml or parts"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.batch(cmd, args, &p)
		},
	}
	p.addSettings(cmd)
	p.addSurface(cmd)
	p.addRemesh(cmd)
	f := cmd.Flags()
	f.StringVar(&p.out, "out", "", "output folder `DIR`, made if need be")
	f.StringVarP(&p.output, "output", "o", "{part}-grown.stl", "`NAME` of grown parts below DIR, .stl, .3mf or .ply")
	f.StringVar(&p.report, "report", "", "`NAME` of report folders below DIR, such as {part}-report (default: none)")
	f.StringVar(&p.verify, "verify", verifyFull, "`how` results are proved: full, by distance; crossings, without the proof; off, nothing is looked for: do not print from it")
	f.BoolVar(&p.thumbnails, "thumbnails", true, "draw a small picture of each part for the index page")
	f.BoolVar(&p.resume, "resume", false, "go on with what an earlier run left in DIR")
	f.BoolVar(&p.force, "force", false, "do all parts anew and replace existing files of DIR")
	f.StringVar(&p.shard, "shard", "", "do share `i/n` of the parts (default: the scheduler's, or all)")
	f.IntVar(&p.shards, "shards", 0, "`number` of shares, where the scheduler tells only which one this is")
	f.BoolVar(&p.collect, "collect", false, "bring the results of all shares together and write the summary and the index")
	cmd.AddCommand(a.batchSchemaCommand(), a.batchTemplateCommand())
	return cmd
}

func (a *app) batch(cmd *cobra.Command, args []string, p *batchFlags) error {
	c, err := a.batchConfig(cmd, args, p)
	if err != nil {
		return err
	}
	progress := a.con.Parts()
	c.Reporter = &batchReporter{progress: progress}
	do := batch.Run
	if p.collect {
		do = batch.Collect
	}
	s, err := do(cmd.Context(), c)
	progress.Done()
	if s != nil && cmd.Context().Err() == nil {
		if terr := a.tellBatch(s, c); terr != nil && err == nil {
			err = badOutput(terr)
		}
	}
	if err != nil {
		return batchError(cmd.Context(), err)
	}
	return codeError(s.Worst)
}

// batchConfig turns the command line into what the run is told.
func (a *app) batchConfig(cmd *cobra.Command, args []string, p *batchFlags) (batch.Config, error) {
	c := batch.Config{Out: p.out, Workers: a.workers, MaxMemory: a.maxMemory, Version: version(), CodeOf: codeOf, ReportFiles: reportFiles[:]}
	var err error
	switch {
	case p.out == "" && filepath.Ext(args[0]) == "" && len(args) == 1 && len(nearCommands(cmd, args[0])) > 0:
		return c, unknownCommand(cmd, args[0])
	case p.out == "":
		return c, usage(errors.New("--out: name the folder for the results"))
	case p.resume && p.force:
		return c, usage(errors.New("--resume keeps what is finished, --force does it anew: give one of them"))
	case p.resume:
		c.Mode = batch.Resume
	case p.force:
		c.Mode = batch.Force
	}
	if c.Shard, err = a.batchShard(p); err != nil {
		return c, err
	}
	if c.Jobs, c.Dir, err = a.jobs(cmd, args, p); err != nil {
		return c, err
	}
	c.Prepare = newPreparer(a, c.Dir).prepare
	return c, nil
}

// batchShard settles which share of the parts is this process's.
func (a *app) batchShard(p *batchFlags) (batch.Shard, error) {
	if p.collect {
		return batch.Whole, nil
	}
	if p.shard != "" {
		s, err := batch.ParseShard(p.shard)
		if err != nil {
			return s, badFlag("shard", err)
		}
		return s, nil
	}
	s, source, err := batch.ShardFrom(os.Getenv, p.shards)
	if err != nil {
		return s, usage(err)
	}
	if source != "" {
		a.con.Note("share %s of the parts, by %s", s, source)
	}
	return s, nil
}

// jobs reads the job file, or takes the parts of the command line, and returns
// the folder that names are relative to.
func (a *app) jobs(cmd *cobra.Command, args []string, p *batchFlags) (*batch.Jobs, string, error) {
	if ext := strings.ToLower(filepath.Ext(args[0])); ext != ".yaml" && ext != ".yml" {
		return batch.OfFiles(args, p.settings()), ".", nil
	}
	if len(args) > 1 {
		return nil, "", usage(errors.New("give one job file, or parts, not both"))
	}
	for _, name := range settingFlags {
		if cmd.Flags().Changed(name) {
			return nil, "", usage(fmt.Errorf("--%s: the settings stand in the job file: put %s: under its defaults", name, settingKey(name)))
		}
	}
	f, err := os.Open(args[0])
	if err != nil {
		return nil, "", usage(fmt.Errorf("%s: %w", args[0], bare(err)))
	}
	defer f.Close()
	j, err := batch.ReadJobs(args[0], f)
	if err != nil {
		return nil, "", usage(err)
	}
	return j, filepath.Dir(args[0]), nil
}

// settingFlags are the flags that a job file has keys for.
var settingFlags = []string{"recipe", "build-dir", "units", "weld-tol-mm", "chord-um", "remesh", "allowance-um", "field", "verify", "fail-on", "keep", "output", "report", "thumbnails"}

// settingKey is the key of a job file for a flag.
func settingKey(flag string) string {
	if flag == "thumbnails" {
		return "thumbnail"
	}
	return strings.ReplaceAll(flag, "-", "_")
}

// settings are the flags as the defaults of a job file would say them.
func (p *batchFlags) settings() batch.Settings {
	return batch.Settings{
		Recipe: p.recipe, BuildDir: batch.Direction(p.buildDir), Units: p.units, WeldTolMM: &p.weldTolMM, ChordUM: &p.chordUM, Remesh: &p.remesh,
		AllowanceUM: batch.Allowance(p.allowance), Field: p.field, Verify: p.verify, FailOn: p.failOn,
		Keep: p.keep, Output: p.output, Report: p.report, Thumbnail: &p.thumbnails,
	}
}

// batchError gives an error that ended a run its exit code.
func batchError(ctx context.Context, err error) error {
	var f *failure
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &f):
		return err
	case errors.Is(err, batch.ErrJobs):
		return usage(err)
	case errors.Is(err, batch.ErrUsed):
		return usage(err)
	}
	return badOutput(err)
}

// codeError ends the run with a code that was told already.
func codeError(code int) error {
	if code == exitDone {
		return nil
	}
	return &failure{code: code, err: errTold}
}

// tellBatch prints what came of a run, the failed parts last.
func (a *app) tellBatch(s *batch.Summary, c batch.Config) error {
	n := map[string]int{}
	for _, r := range s.Records {
		n[r.Outcome]++
	}
	text := fmt.Sprintf("%d parts: %d done, %d done with findings, %d failed", s.Parts, n[batch.Done], n[batch.Findings], n[batch.Failed])
	if s.Reused > 0 {
		text += fmt.Sprintf("; %d of them were finished before", s.Reused)
	}
	if _, err := fmt.Fprintf(a.con.Out, "%s\nresults in %s\n", text, console.SafeLine(c.Out)); err != nil {
		return err
	}
	for _, r := range s.Records {
		if r.Outcome == batch.Failed {
			a.con.Error("%s", console.SafeLine(r.Error))
		}
	}
	return nil
}

// batchReporter shows how a run goes.
type batchReporter struct{ progress *console.Parts }

func (b *batchReporter) Start(parts int, weight int64) { b.progress.Start(parts, weight) }

func (b *batchReporter) Finished(r *batch.Record, weight int64, reused bool) {
	what := r.Outcome
	switch {
	case reused:
		what += ", was finished before"
	case r.Outcome == batch.Failed:
		what += ": " + strings.TrimPrefix(r.Error, r.Part+": ")
	case r.Figures != nil:
		what += ": " + r.Figures.Verdict
	}
	b.progress.Part(r.Part, what, weight)
}

func (a *app) batchSchemaCommand() *cobra.Command {
	return &cobra.Command{
		Use: "schema", Short: "Print the JSON Schema of job files, for editors", Args: cobra.NoArgs,
		Example: "  skinstock batch schema > jobs.schema.json",
		RunE: func(*cobra.Command, []string) error {
			s, err := batch.JobSchema()
			if err != nil {
				return err
			}
			return writeSchema(a.con.Out, s)
		},
	}
}

func (a *app) batchTemplateCommand() *cobra.Command {
	return &cobra.Command{
		Use: "template " + strings.Join(batch.Templates(), "|"), Short: "Print a script that runs a batch as an array job of a scheduler", Args: cobra.ExactArgs(1),
		Example:   "  skinstock batch template slurm > batch.sbatch",
		ValidArgs: batch.Templates(),
		RunE: func(_ *cobra.Command, args []string) error {
			t, err := batch.Template(args[0])
			if err != nil {
				return usage(err)
			}
			_, err = a.con.Out.Write(t)
			return err
		},
	}
}
