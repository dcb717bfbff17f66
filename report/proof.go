package report

import "skinstock/offset/verify"

// umPerMM converts lengths of geometry to the unit of surfaces.
const umPerMM = 1000

// composeProof puts the proof's figures into um.
func composeProof(p *verify.Proof) *Verify {
	v := &Verify{
		Samples: p.All.Samples, ShortfallUM: tail(p.All.Shortfall), ExcessUM: tail(p.All.Excess),
		RMSUM: Number(p.All.RMS * umPerMM), P95UM: Number(p.All.Excess.P95 * umPerMM), ToleranceUM: Number(p.Tolerance * umPerMM),
		Within: p.Within(), ShortPlaces: p.PlaceCount, GrownSamples: p.GrownSamples, GrownShortfallUM: Number(p.GrownShortfall.Value * umPerMM),
		ReachUM: Number(p.Reach.Value * umPerMM), Skins: make([]VerifySkin, 0, len(p.BySkin)),
		Histogram: Histogram{StartUM: Number(p.Histogram.Start * umPerMM), StepUM: Number(p.Histogram.Step * umPerMM), Share: make([]Number, 0, len(p.Histogram.Share))},
	}
	for _, s := range p.BySkin {
		v.Skins = append(v.Skins, VerifySkin{
			Skin: s.Skin, Samples: s.Samples, ShortfallUM: tail(s.Shortfall), ExcessUM: tail(s.Excess), RMSUM: Number(s.RMS * umPerMM),
		})
	}
	for _, s := range p.Histogram.Share {
		v.Histogram.Share = append(v.Histogram.Share, Number(s))
	}
	return v
}

func tail(s verify.Spread) Tail {
	return Tail{P99: Number(s.P99 * umPerMM), Max: Number(s.Max.Value * umPerMM), At: PointOf(s.Max.At)}
}
