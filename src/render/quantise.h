// Encoded float pixels to integers.
#pragma once

#include <cstddef>
#include <cstdint>

namespace samelight::render {

// `rgbx`: `count` pixels of four floats in 0..1 (what is outside is clamped, NaN gives 0); `out`: three
// values a pixel. Rounds to nearest after adding, when `dither` is set, a pattern that is spread evenly over
// less than +-0.5 steps: the mean over a neighbourhood keeps the fraction, whole values (0 and 255 too) stay
// as they are. `x`, `y`: place of the first pixel in the picture. The pattern is the R2 sequence of Roberts
// 2018 ("The unreasonable effectiveness of quasirandom sequences"), whose error has little energy at low
// frequencies; the channels are a third apart. Deterministic; all vector versions agree within 1, whole
// values exactly. Thread safe.
void Quantise8(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
               std::uint8_t* out);
// Without dither: a step of 1/65535 does not show.
void Quantise16(const float* rgbx, std::size_t count, std::uint16_t* out);

// The same in plain code.
void Quantise8Plain(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
                    std::uint8_t* out);
void Quantise16Plain(const float* rgbx, std::size_t count, std::uint16_t* out);

}  // namespace samelight::render
