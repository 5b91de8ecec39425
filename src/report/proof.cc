#include "report/proof.h"

#include <fmt/format.h>

#include "base/file.h"
#include "report/index.h"
#include "report/markup.h"
#include "report/words.h"

namespace samelight::report {
namespace {

constexpr int kPicturePx =
    480;  // long side; about twice its size on the page, for dense screens and for print

// Ground and text as on the report's page (style.h says why these greys); on paper white.
constexpr char kProofStyle[] = R"css(
:root{color-scheme:dark}
*{box-sizing:border-box}
body{margin:0;padding:0 24px 48px;background:#656565;color:#f2f2f2;font:14px/1.45 Inter,system-ui,sans-serif}
h1{font-size:26px;font-weight:600;margin:32px 0 4px}
h2{font-size:18px;font-weight:600;margin:36px 0 10px;break-after:avoid}
h2 small{font-size:13px;font-weight:400}
p{margin:0;max-width:76ch}
.sheet{display:grid;grid-template-columns:repeat(auto-fill,minmax(260px,1fr));gap:20px 16px}
figure{margin:0;break-inside:avoid}
figure img,figure .none{display:block;width:100%;aspect-ratio:3/2;object-fit:contain;background:#585858}
figcaption{display:flex;justify-content:space-between;gap:12px;padding:6px 0 4px}
figcaption b{font-weight:600;overflow-wrap:anywhere;unicode-bidi:isolate}
label{white-space:nowrap;font-size:13px}
textarea{display:block;width:100%;height:44px;resize:vertical;font:inherit;font-size:13px;color:#f2f2f2;background:#383838;
border:1px solid #c8c8c8;border-radius:3px;padding:3px 6px}
@media print{@page{size:A4;margin:11mm}
:root{color-scheme:light}body{padding:0;background:#fff;color:#111;font-size:10px}
h1{font-size:18px;margin-top:0}h2{font-size:13px;margin:16px 0 6px}
.sheet{grid-template-columns:repeat(3,1fr);gap:10px 8px}
figure img{background:none}
img{-webkit-print-color-adjust:exact;print-color-adjust:exact}
textarea{color:#111;background:none;border:0;border-bottom:1px solid #777;border-radius:0;height:26px;font-size:10px}
label{font-size:10px}}
)css";

class Proof {
 public:
  Proof(const Report& report, const Thumbnail& thumbnail)
      : report_(report), thumbnail_(thumbnail), index_(report) {}

  std::string Text() {
    text_ =
        "<!doctype html><html lang=en><head><meta charset=utf-8>"
        "<meta http-equiv=Content-Security-Policy content=\"default-src 'none'; img-src data:; style-src "
        "'unsafe-inline'\"><meta name=viewport content=\"width=device-width,initial-scale=1\">";
    text_ += fmt::format("<title>{0} \u2013 proof sheet</title><style>{1}</style></head><body><h1>{0}</h1>",
                         Escape(report_.session), kProofStyle);
    text_ +=
        "<p>Tick a picture to come back to it, and write what you would like changed. Printed, or saved by "
        "the "
        "browser as a PDF file, the page keeps what was written.</p>";
    // By light; what is in none comes last.
    std::vector<const record::Photo*> rest;
    for (const record::Light& light : report_.lights) {
      std::vector<const record::Photo*> photos;
      for (const record::Photo& photo : report_.photos)
        if (photo.role == record::Role::kFrame && index_.LightOf(photo.id) == &light)
          photos.push_back(&photo);
      Sheet(light.name, photos);
    }
    for (const record::Photo& photo : report_.photos)
      if (photo.role == record::Role::kFrame && index_.LightOf(photo.id) == nullptr) rest.push_back(&photo);
    Sheet("other frames", rest);
    text_ += "</body></html>\n";
    return std::move(text_);
  }

 private:
  void Sheet(const std::string& name, const std::vector<const record::Photo*>& photos) {
    if (photos.empty()) return;
    text_ += fmt::format("<h2>{} <small>{}</small></h2><div class=sheet>", Escape(name),
                         Count(static_cast<int>(photos.size()), "frame"));
    for (const record::Photo* photo : photos) {
      const std::string label = Escape(index_.NameOf(photo->id));
      const std::vector<std::uint8_t> jpeg = thumbnail_(photo->id, Version::kDelivered, kPicturePx);
      text_ += "<figure>";
      text_ += jpeg.empty() ? "<div class=none></div>"
                            : fmt::format("<img src=\"{}\" alt=\"{}\">", JpegUri(jpeg), label);
      text_ += fmt::format(
          "<figcaption><b>{0}</b><label><input type=checkbox> come back to it</label></figcaption>"
          "<textarea aria-label=\"notes on {0}\"></textarea></figure>",
          label);
    }
    text_ += "</div>";
  }

  const Report& report_;
  const Thumbnail& thumbnail_;
  const Index index_;
  std::string text_;
};

}  // namespace

std::string ProofText(const Report& report, const Thumbnail& thumbnail) {
  return Proof(report, thumbnail).Text();
}

Status WriteProof(const std::filesystem::path& path, const Report& report, const Thumbnail& thumbnail) {
  return WriteFileWhole(path, ProofText(report, thumbnail));
}

}  // namespace samelight::report
