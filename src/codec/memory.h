// How much memory decoding and encoding take, told before they begin.
#pragma once

#include <cstdint>

#include "codec/read.h"
#include "codec/write.h"
#include "record/photo.h"

namespace samelight::codec {

// Bytes held at once at most while ReadPicture() reads `photo`: the file, the library's own pixels and ours.
// An upper estimate from what is known of a file before it is opened (size, kind, lens), for files of three
// channels, progressive or turned ones included; a CMYK file may take 10 bytes a pixel more than is said of a
// frame.
std::uint64_t ReadingBytes(const record::Photo& photo, const ReadOptions& options);

// Bytes of the picture that ReadPicture() then gives.
std::uint64_t PictureBytes(const record::Photo& photo, const ReadOptions& options);

// Bytes that EncodePicture() takes at most beside the pixels it is given, its result included.
std::uint64_t EncodingBytes(std::uint64_t pixels, bool sixteen_bits, const WriteOptions& options);

}  // namespace samelight::codec
