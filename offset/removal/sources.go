package removal

import (
	"strings"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// weakest returns the least trustworthy of the sources given: assumed, then
// published, then measured; none when none is given.
func weakest(sources ...recipe.Source) recipe.Source {
	var out recipe.Source
	for _, s := range sources {
		switch {
		case s == recipe.Assumed:
			return s
		case s == recipe.Published, s == recipe.Measured && out == "":
			out = s
		}
	}
	return out
}

// rowSource returns the least trustworthy source in a skin's as-built figures.
func (p *Plan) rowSource(skin region.Skin) recipe.Source {
	prefix := map[recipe.RoughnessModel]string{
		recipe.ModelTable: "roughness.table.", recipe.ModelStairStep: "roughness.stair_step.",
	}[p.Recipe.Roughness.Model]
	if prefix == "" {
		name := skin.String()
		if skin == region.Platform && p.Recipe.Roughness.Classes.Platform == nil {
			name = region.Downskin.String()
		}
		prefix = "roughness.classes." + name + "."
	}
	r := p.Recipe.Roughness.Model
	var src []recipe.Source
	for _, v := range p.Recipe.Values() {
		ratio := v.Path == "roughness.rz_per_ra" || v.Path == "roughness.peak_share"
		layers := r == recipe.ModelStairStep && v.Path == "print.layer_um"
		pitch := strings.HasSuffix(v.Path, ".wavelength_um") && p.Recipe.Finish.Levelling.Law != recipe.LawSinusoid
		if ratio || layers || strings.HasPrefix(v.Path, prefix) && !pitch {
			src = append(src, v.Source)
		}
	}
	return weakest(src...)
}

// materialSource returns the least trustworthy source of density and composition.
func materialSource(r *recipe.Recipe) recipe.Source {
	src := []recipe.Source{r.Material.DensityGPerCM3.Source}
	for _, e := range r.Material.Elements {
		src = append(src, e.MassFraction.Source, e.Valence.Source)
	}
	return weakest(src...)
}

// levelSource is that of the depth that brings a skin to the target.
func (p *Plan) levelSource(skin region.Skin) recipe.Source {
	src := weakest(p.rowSource(skin), p.Recipe.Finish.TargetRaUM.Source)
	for i := range p.proc.stages {
		t := &p.proc.stages[i]
		src = weakest(src, t.levelSource, t.depthSource)
	}
	return src
}

// calledSource is that of the depth a skin calls for.
func (p *Plan) calledSource(skin region.Skin) recipe.Source {
	return weakest(p.levelSource(skin), p.Recipe.Finish.Clear.Source)
}

// takenSource is that of the depth a skin loses. In one bath all skins have a
// say in it: the one that needs most sets the time.
func (p *Plan) takenSource(skin region.Skin) recipe.Source {
	if p.shared != nil {
		return p.depthSource()
	}
	return weakest(p.calledSource(skin), p.rateSource())
}

// depthSource is that of depth and time in the bath, over all skins.
func (p *Plan) depthSource() recipe.Source {
	src := p.rateSource()
	for _, k := range p.Skins {
		src = weakest(src, p.calledSource(k.Skin))
	}
	return src
}

// addedSource is that of what growing adds on top of the depth taken.
func (p *Plan) addedSource() recipe.Source {
	src := p.Recipe.Finish.ExtraUM.Source
	for _, k := range p.Skins {
		src = weakest(src, p.rowSource(k.Skin))
	}
	return src
}

func (p *Plan) rateSource() recipe.Source {
	return p.overStages(func(t *treatment) recipe.Source { return t.rateSource })
}

func (p *Plan) currentSource() recipe.Source {
	return p.overStages(func(t *treatment) recipe.Source { return t.currentSource })
}

func (p *Plan) voltageSource() recipe.Source {
	return p.overStages(func(t *treatment) recipe.Source { return t.voltageSource })
}

// overStages returns the least trustworthy source that of gives for a stage.
func (p *Plan) overStages(of func(*treatment) recipe.Source) (src recipe.Source) {
	for i := range p.proc.stages {
		src = weakest(src, of(&p.proc.stages[i]))
	}
	return src
}
