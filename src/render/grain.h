// Grain as film has it: from a measured model to noise for one picture size.
#pragma once

#include "base/result.h"
#include "color/space.h"
#include "record/grain.h"
#include "render/grain_noise.h"

namespace samelight::render {

// A model from the two numbers that a film is described by: granularity (standard deviation of density x 1000
// at density 1 through a 48 um aperture) and the diameter of the grain's clumps, on a film picture of
// `film_long_side_mm`. Spectrum: a Gaussian blob. Strength: rises with the square root of density (Siedentopf
// 1937), as a print shows it, and falls again where the paper's toe flattens it (shape from memory). For
// pictures without measured scans, and for tests.
record::GrainModel FilmGrain(double granularity, double size_um, double film_long_side_mm);

// True if the model can be used: tables ascending, finite and of equal lengths, something measured.
bool Usable(const record::GrainModel& model);

// Power spectrum of grain in a picture whose pixels measure `pitch_um` on the film, at `fx`, `fy` cycles a
// pixel (+-0.5): variance per (cycle/pixel)^2, for a scan pixel variance of 1. Pixels average their area,
// what is finer folds back (an area average of the scan would show the same).
double PixelPower(const record::GrainModel& model, double pitch_um, double fx, double fy);

// Ratio of the standard deviation of a picture's pixel to that of a scan pixel.
double SigmaRatio(const record::GrainModel& model, double pitch_um);

// Noise for a picture of `long_side_px` encoded in `space`. `amount` multiplies the strength, `size` the size
// of the grain at equal strength per film area; both > 0, usually 1. Fit of the spectrum: FitErrorDb below.
// First order in density: the encoded value changes by noise x slope of encoded over density. For noise up to
// 0.05 in density (sigma) that is within 3 % of adding it to the density itself.
NoiseShape ShapeFor(const record::GrainModel& model, int long_side_px, color::Space space, double amount,
                    double size);

// RMS difference in dB between the spectrum of `shape`'s noise (for unit gain) and the model's, over the
// frequencies where the model is within 20 dB of its strongest.
double FitErrorDb(const record::GrainModel& model, int long_side_px, double size, const NoiseShape& shape);

}  // namespace samelight::render
