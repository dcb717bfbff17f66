package report

import (
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/offset/verify"
	"skinstock/region"
)

// Steps are taken together so that one row begins at zero and no area is lost.
func TestHistogramRows(t *testing.T) {
	h := Histogram{StartUM: -0.6, StepUM: 0.2}
	for range 40 {
		h.Share = append(h.Share, 1.0/40)
	}
	rows, step := h.rows(16)
	require.InDelta(t, 0.6, step, 1e-12)
	require.Len(t, rows, 14)
	require.InDelta(t, -0.6, rows[0].from, 1e-12)
	require.InDelta(t, 0, rows[1].from, 1e-12)
	sum := 0.0
	for _, r := range rows {
		sum += r.share
	}
	require.InDelta(t, 1, sum, 1e-12)
	require.InDelta(t, 3.0/40, rows[0].share, 1e-12, "three steps of the same share lie below zero")

	one, step := Histogram{StepUM: 0.1, Share: []Number{1}}.rows(16)
	require.Equal(t, []histogramRow{{0, 1}}, one)
	require.Equal(t, 0.1, step)
}

// The proof on a terminal: by skin with places, and the histogram with bars to
// scale; what is too little for a bar is still seen.
func TestProofTable(t *testing.T) {
	worst := verify.Worst{Value: 0.0031, At: r3.Vector{X: 1, Y: 2.5}}
	all := verify.Stats{Samples: 1200, RMS: 0.001, Shortfall: verify.Spread{P99: 0.002, Max: worst}, Excess: verify.Spread{P99: 0.004}}
	p := &verify.Proof{
		All: all, BySkin: []verify.SkinStats{{Skin: region.Upskin, Stats: all}}, Tolerance: 0.001,
		Histogram: verify.Histogram{Start: -0.01, Step: 0.01, Share: []float64{0.001, 0.8, 0.199}},
	}
	var b strings.Builder
	tw := &textWriter{w: &b}
	tw.proofTable(&Document{Command: "verify", Verify: composeProof(p)})
	require.NoError(t, tw.err)
	out := b.String()
	require.Regexp(t, `upskin +1,200 +3.1 +1, 2.5, 0 +2 +4 +0 +- +1`, out)
	require.Regexp(t, `(?m)^ +0 to  10  80.00 %  #{40}$`, out)
	require.Regexp(t, `(?m)^ +10 to  20  19.90 %  #{10}$`, out)
	require.Regexp(t, `(?m)^ +-10 to   0   0.10 %  \.$`, out)

	b.Reset()
	tw.proofTable(&Document{Command: "compensate", Verify: composeProof(p)})
	require.Empty(t, b.String(), "a line is enough where the proof is one of many things")
}
