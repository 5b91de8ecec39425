// What the benchmarks of reading, writing and delivering are held against: the bare libraries, a scene that
// makes files of a camera's size, and the time that was used.
#pragma once

#include <cstdio>

#include <jpeglib.h>
#include <libraw/libraw.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <vector>

#include "image/raster.h"

namespace samelight::codec::peers {

inline constexpr int kWidth = 6000, kHeight = 4000;

// Hills, texture and a camera's noise, as strong as makes files of the size that cameras write, 8 to 14 MB
// for 24 megapixels (common practice): decoding a JPEG is mostly the decoding of its entropy.
inline image::RgbU8 Scene(int seed) {
  image::RgbU8 p(kWidth, kHeight);
  std::uint32_t dice = 12345u + static_cast<std::uint32_t>(seed);
  const auto next = [&] {
    dice = dice * 1664525u + 1013904223u;
    return (static_cast<double>(dice >> 24) - 127.5) / 127.5;
  };
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double u = x / 6000.0, v = y / 4000.0;
      const double level = 110 + 60 * std::sin(7 * u + 3 * std::sin(5 * v) + seed) +
                           14 * std::sin(400 * u + 300 * v) + 11 * (next() + next());
      for (int c = 0; c < 3; ++c)
        p.at(x, y)[c] = static_cast<std::uint8_t>(
            std::clamp(level + 25 * std::sin(9 * v + 4 * u + 2.1 * c) + 4 * next(), 0.0, 255.0));
    }
  return p;
}

// libjpeg-turbo's own decoding and encoding, nothing around it; rows of RGB.
inline void DecodeJpeg(const std::vector<std::uint8_t>& bytes, std::vector<std::uint8_t>& rows) {
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, bytes.data(), bytes.size());
  jpeg_read_header(&info, TRUE);
  info.dct_method = JDCT_ISLOW;
  jpeg_start_decompress(&info);
  const std::size_t stride = 3 * info.output_width;
  rows.resize(stride * info.output_height);
  while (info.output_scanline < info.output_height) {
    JSAMPROW row = rows.data() + stride * info.output_scanline;
    jpeg_read_scanlines(&info, &row, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
}

// With the settings of EncodePicture() and of an order by default: quality 95, no subsampling.
inline std::vector<std::uint8_t> EncodeJpeg(const image::RgbU8& pixels) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* data = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &data, &size);
  info.image_width = static_cast<JDIMENSION>(pixels.width());
  info.image_height = static_cast<JDIMENSION>(pixels.height());
  info.input_components = 3;
  info.in_color_space = JCS_RGB;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, 95, TRUE);
  info.dct_method = JDCT_ISLOW;
  info.optimize_coding = TRUE;
  info.comp_info[0].h_samp_factor = info.comp_info[0].v_samp_factor = 1;
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    JSAMPROW row = const_cast<JSAMPROW>(pixels.row(static_cast<int>(info.next_scanline)));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  std::vector<std::uint8_t> out(data, data + size);
  std::free(data);
  return out;
}

// AHD, without any of LibRaw's own colour; null: not read.
inline std::unique_ptr<LibRaw> DevelopRaw(const std::vector<std::uint8_t>& bytes) {
  auto raw = std::make_unique<LibRaw>();
  auto& p = raw->imgdata.params;
  p.output_color = 0;
  p.output_bps = 16;
  p.gamm[0] = p.gamm[1] = 1;
  p.no_auto_bright = 1;
  p.use_camera_wb = 1;
  p.user_qual = 3;
  if (raw->open_buffer(const_cast<std::uint8_t*>(bytes.data()), bytes.size()) != LIBRAW_SUCCESS ||
      raw->unpack() != LIBRAW_SUCCESS || raw->dcraw_process() != LIBRAW_SUCCESS)
    return nullptr;
  return raw;
}

}  // namespace samelight::codec::peers
