// libtiff over bytes in memory, with its messages kept instead of printed.
#pragma once

#include <tiffio.h>

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace samelight::codec {

struct TiffCloser {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
using TiffPtr = std::unique_ptr<TIFF, TiffCloser>;

// Must outlive the handle that Open returned. One handle per object.
class TiffMemory {
 public:
  explicit TiffMemory(std::span<const std::uint8_t> source) : source_(source) {}  // for reading
  TiffMemory() : writing_(true) {}                                                // for writing
  TiffMemory(const TiffMemory&) = delete;
  TiffMemory& operator=(const TiffMemory&) = delete;

  // nullptr when the header is not TIFF. `most_alloc_bytes` bounds any single allocation of the library.
  TiffPtr Open(std::uint64_t most_alloc_bytes);
  // The same for a file on disk, read-only.
  TiffPtr OpenFile(const std::filesystem::path& path, std::uint64_t most_alloc_bytes);
  // What was written; call after the handle is closed.
  std::vector<std::uint8_t> Take() { return std::move(sink_); }
  // First error that the library reported.
  const std::string& message() const { return message_; }

 private:
  TIFFOpenOptions* Options(std::uint64_t most_alloc_bytes);
  static tmsize_t ReadProc(thandle_t handle, void* data, tmsize_t size);
  static tmsize_t WriteProc(thandle_t handle, void* data, tmsize_t size);
  static toff_t SeekProc(thandle_t handle, toff_t offset, int whence);
  static int CloseProc(thandle_t) { return 0; }
  static toff_t SizeProc(thandle_t handle);
  std::uint64_t size() const { return writing_ ? sink_.size() : source_.size(); }

  std::span<const std::uint8_t> source_;
  std::vector<std::uint8_t> sink_;
  bool writing_ = false;
  std::uint64_t position_ = 0;
  std::string message_;
};

}  // namespace samelight::codec
