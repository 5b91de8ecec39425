// Encoders into memory. Pixels are already in the encoding of the profile.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"
#include "codec/write.h"
#include "image/raster.h"

namespace samelight::codec {

using Bytes = std::vector<std::uint8_t>;

// An empty `icc` embeds no profile. Asked to stop (kCancelled) about once a row.
Result<Bytes> EncodeJpegWith(const image::RgbU8& pixels, int quality, Subsampling subsampling, double dpi,
                             std::span<const std::uint8_t> icc, const Cancel& cancel = {});
Result<Bytes> EncodeTiff(const image::RgbU8& pixels, double dpi, std::span<const std::uint8_t> icc,
                         const Cancel& cancel = {});
Result<Bytes> EncodeTiff(const image::RgbU16& pixels, double dpi, std::span<const std::uint8_t> icc,
                         const Cancel& cancel = {});
Result<Bytes> EncodePng(const image::RgbU8& pixels, double dpi, std::span<const std::uint8_t> icc,
                        const Cancel& cancel = {});
Result<Bytes> EncodePng(const image::RgbU16& pixels, double dpi, std::span<const std::uint8_t> icc,
                        const Cancel& cancel = {});

}  // namespace samelight::codec
