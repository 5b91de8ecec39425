#include "codec/tiff_memory.h"

#include <algorithm>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <limits>

namespace samelight::codec {

TIFFOpenOptions* TiffMemory::Options(std::uint64_t most_alloc_bytes) {
  // One handle of libtiff 4.5 keeps its own handlers, so threads do not share them.
  TIFFOpenOptions* options = TIFFOpenOptionsAlloc();
  TIFFOpenOptionsSetMaxSingleMemAlloc(options, static_cast<tmsize_t>(std::min<std::uint64_t>(
                                                   most_alloc_bytes, std::numeric_limits<tmsize_t>::max())));
  TIFFOpenOptionsSetErrorHandlerExtR(
      options,
      [](TIFF*, void* self, const char*, const char* format, va_list arguments) {
        auto* memory = static_cast<TiffMemory*>(self);
        if (!memory->message_.empty()) return 1;
        char text[256];
        std::vsnprintf(text, sizeof text, format, arguments);
        memory->message_ = text;
        return 1;
      },
      this);
  TIFFOpenOptionsSetWarningHandlerExtR(
      options, [](TIFF*, void*, const char*, const char*, va_list) { return 1; }, this);
  return options;
}

// "m" in the modes: no memory map, a file that shrinks meanwhile must be an error and not a signal.
TiffPtr TiffMemory::Open(std::uint64_t most_alloc_bytes) {
  TIFFOpenOptions* options = Options(most_alloc_bytes);
  TIFF* tiff = TIFFClientOpenExt("picture", writing_ ? "wm" : "rm", static_cast<thandle_t>(this), ReadProc,
                                 WriteProc, SeekProc, CloseProc, SizeProc, nullptr, nullptr, options);
  TIFFOpenOptionsFree(options);
  return TiffPtr(tiff);
}

TiffPtr TiffMemory::OpenFile(const std::filesystem::path& path, std::uint64_t most_alloc_bytes) {
  TIFFOpenOptions* options = Options(most_alloc_bytes);
  TIFF* tiff = TIFFOpenExt(path.c_str(), "rm", options);
  TIFFOpenOptionsFree(options);
  return TiffPtr(tiff);
}

tmsize_t TiffMemory::ReadProc(thandle_t handle, void* data, tmsize_t size) {
  auto* self = static_cast<TiffMemory*>(handle);
  if (size <= 0 || self->position_ >= self->size()) return 0;
  const auto part = std::min<std::uint64_t>(static_cast<std::uint64_t>(size), self->size() - self->position_);
  const std::uint8_t* from = self->writing_ ? self->sink_.data() : self->source_.data();
  std::memcpy(data, from + self->position_, part);
  self->position_ += part;
  return static_cast<tmsize_t>(part);
}

tmsize_t TiffMemory::WriteProc(thandle_t handle, void* data, tmsize_t size) {
  auto* self = static_cast<TiffMemory*>(handle);
  if (!self->writing_ || size < 0) return -1;
  const std::uint64_t end = self->position_ + static_cast<std::uint64_t>(size);
  if (end > self->sink_.size()) {
    if (end > self->sink_.capacity())
      self->sink_.reserve(std::max<std::uint64_t>(end, self->sink_.capacity() * 2));
    self->sink_.resize(end);
  }
  std::memcpy(self->sink_.data() + self->position_, data, static_cast<std::size_t>(size));
  self->position_ = end;
  return size;
}

toff_t TiffMemory::SeekProc(thandle_t handle, toff_t offset, int whence) {
  auto* self = static_cast<TiffMemory*>(handle);
  switch (whence) {
    case SEEK_CUR:
      self->position_ += offset;
      break;
    case SEEK_END:
      self->position_ = self->size() + offset;
      break;
    default:
      self->position_ = offset;
  }
  return self->position_;
}

toff_t TiffMemory::SizeProc(thandle_t handle) { return static_cast<TiffMemory*>(handle)->size(); }

}  // namespace samelight::codec
