#include "record/photo.h"

namespace samelight::record {

const char* Name(Role role) { return role == Role::kScan ? "scan" : "frame"; }

const char* Name(Encoding encoding) {
  switch (encoding) {
    case Encoding::kRaw: return "raw";
    case Encoding::kJpeg: return "jpeg";
    case Encoding::kTiff: return "tiff";
    case Encoding::kPng: return "png";
  }
  return "jpeg";
}

std::string BodyName(const Photo& photo) {
  std::string body = photo.capture.body.empty() ? "unknown body" : photo.capture.body;
  if (!photo.capture.serial.empty()) body += " " + photo.capture.serial;
  return body;
}

std::string SourceName(const Photo& photo) {
  return BodyName(photo) + (photo.encoding == Encoding::kRaw ? " raw" : " jpeg");
}

}  // namespace samelight::record
