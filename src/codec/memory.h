// How much memory decoding and encoding take, told before they begin.
#pragma once

#include <cstdint>

#include "codec/read.h"
#include "codec/write.h"
#include "record/photo.h"

namespace samelight::codec {

// Bytes held at once at most while ReadPicture() reads `photo`: the file, the library's own pixels and ours.
// `spare`: with a Spare that has read such pictures before. An upper estimate from what is known of a file
// before it is opened (size, kind), for progressive and turned files too.
std::uint64_t ReadingBytes(const record::Photo& photo, const ReadOptions& options, bool spare = false);

// Bytes of the picture that ReadPicture() then gives, and of what it leaves in a Spare.
std::uint64_t PictureBytes(const record::Photo& photo, const ReadOptions& options);

// Bytes that EncodePicture() takes at most beside the pixels it is given, its result included.
std::uint64_t EncodingBytes(std::uint64_t pixels, bool sixteen_bits, const WriteOptions& options);

}  // namespace samelight::codec
