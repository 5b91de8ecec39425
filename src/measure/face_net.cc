#include "measure/face_net.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>

#include "image/alone.h"

namespace samelight::measure {
namespace {

// Shape of the network: Bazarevsky et al. 2019, "BlazeFace: Sub-millisecond Neural Face Detection on Mobile
// GPUs", in its 256 px form: 2 anchors for each place of a 16 x 16 grid, then 6 for each place of an 8 x 8
// grid.
constexpr int kInput = 256;
struct Grid {
  int side, anchors;
};
constexpr std::array<Grid, 2> kGrids{{{16, 2}, {8, 6}}};
constexpr int kValues = 16;  // per anchor: centre, size, then six landmarks; all in input pixels
// A candidate is looked at again from three distances (sides of the window in widths of its box), as it is
// and mirrored, and counts as a face when the mean of the six scores is high. Measured on the photographs of
// the tests and close views of them, full frame: 22 faces have means from 0.78 up, the best of what is no
// face (a dog in a close view) 0.72, and nothing but faces scores 0.88 at once; a single look at 0.75 misses
// three of the faces and takes a cat. Windows ask nine times as often, so they must be surer: 22 faces from
// 0.79 up, a rocket 0.76, a dog 0.74.
struct Trust {
  float candidate;  // least score that is worth a second look
  float sure;       // score that needs none
  float face;       // least mean of the second looks
};
constexpr Trust kFullFrame{0.5f, 0.88f, 0.75f}, kWindow{0.75f, 2.f, 0.775f};
constexpr std::array<float, 3> kLooks{1.6f, 2.2f, 3.2f};
constexpr float kSameFace = 0.3f;  // overlap (intersection over union) from which two boxes are one face

struct Box {
  float left, top, right, bottom, score;
};

float Overlap(const Box& a, const Box& b) {
  const float w = std::min(a.right, b.right) - std::max(a.left, b.left);
  const float h = std::min(a.bottom, b.bottom) - std::max(a.top, b.top);
  if (w <= 0 || h <= 0) return 0;
  const float both = w * h;
  return both / ((a.right - a.left) * (a.bottom - a.top) + (b.right - b.left) * (b.bottom - b.top) - both);
}

// Boxes that overlap the best remaining one are averaged into it, weighted by score.
std::vector<Box> Merge(std::vector<Box> boxes) {
  std::sort(boxes.begin(), boxes.end(), [](const Box& a, const Box& b) { return a.score > b.score; });
  std::vector<Box> merged, rest;
  while (!boxes.empty()) {
    const Box best = boxes.front();
    Box sum{0, 0, 0, 0, 0};
    rest.clear();
    for (const Box& b : boxes) {
      if (Overlap(best, b) <= kSameFace) {
        rest.push_back(b);
        continue;
      }
      sum.left += b.left * b.score;
      sum.top += b.top * b.score;
      sum.right += b.right * b.score;
      sum.bottom += b.bottom * b.score;
      sum.score += b.score;
    }
    if (sum.score <= 0) break;  // a degenerate box does not even overlap itself
    merged.push_back({sum.left / sum.score, sum.top / sum.score, sum.right / sum.score,
                      sum.bottom / sum.score, best.score});
    boxes = rest;
  }
  return merged;
}

class FaceNet final : public FaceFinder {
 public:
  explicit FaceNet(cv::dnn::Net net) : net_(std::move(net)), outputs_(net_.getUnconnectedOutLayersNames()) {}

  // True when the outputs have the shapes of the network above.
  bool Fits() {
    const std::vector<cv::Mat> out = Forward(cv::Mat(kInput, kInput, CV_32FC3, cv::Scalar::all(0)));
    return Sorted(out).size() == 2 * kGrids.size();
  }

  std::vector<record::Face> Find(const image::RgbU8& srgb) override {
    if (srgb.width() < 16 || srgb.height() < 16) return {};
    const cv::Mat picture(srgb.height(), srgb.width(), CV_8UC3,
                          const_cast<std::uint8_t*>(srgb.data().data()));
    std::vector<Box> boxes;
    try {
      Detect(picture, cv::Rect(0, 0, picture.cols, picture.rows), kFullFrame.candidate, boxes);
      boxes = Confirmed(picture, Merge(std::move(boxes)), kFullFrame);
      if (boxes.empty()) {
        // Small faces: nine windows of half the size, each half over the next.
        const int w = picture.cols / 2, h = picture.rows / 2;
        for (int j = 0; j < 3; ++j)
          for (int i = 0; i < 3; ++i)
            Detect(picture, cv::Rect(i * (picture.cols - w) / 2, j * (picture.rows - h) / 2, w, h),
                   kWindow.candidate, boxes);
        boxes = Confirmed(picture, Merge(std::move(boxes)), kWindow);
      }
    } catch (const cv::Exception&) {
      return {};  // the network ran once in Fits(), so only memory can fail here; a picture without faces is
                  // still of use
    }
    std::vector<record::Face> faces;
    for (const Box& b : boxes) {
      record::Face f;
      f.left = std::clamp<double>(b.left / picture.cols, 0, 1);
      f.right = std::clamp<double>(b.right / picture.cols, 0, 1);
      f.top = std::clamp<double>(b.top / picture.rows, 0, 1);
      f.bottom = std::clamp<double>(b.bottom / picture.rows, 0, 1);
      f.score = b.score;
      if (f.right > f.left && f.bottom > f.top) faces.push_back(f);
    }
    return faces;
  }

  std::string KindOfModel() const override { return "network"; }

 private:
  // `input`: 256 x 256 RGB floats; the network takes rows, columns, channels in that order.
  std::vector<cv::Mat> Forward(const cv::Mat& input) {
    const int shape[] = {1, kInput, kInput, 3};
    net_.setInput(cv::Mat(4, shape, CV_32F, input.data));
    std::vector<cv::Mat> out;
    net_.forward(out, outputs_);
    return out;
  }

  // Scores and values of each grid, told apart by their shapes: {scores 0, values 0, scores 1, values 1};
  // empty when one is missing.
  static std::vector<cv::Mat> Sorted(const std::vector<cv::Mat>& out) {
    std::vector<cv::Mat> sorted;
    for (const Grid& g : kGrids)
      for (const int values : {1, kValues})
        for (const cv::Mat& m : out)
          if (m.dims == 3 && m.type() == CV_32F && m.isContinuous() && m.size[0] == 1 &&
              m.size[1] == g.side * g.side * g.anchors && m.size[2] == values)
            sorted.push_back(m);
    return sorted;
  }

  // Calls found(score, left, top, right, bottom), in pixels of the input, for every anchor that scores
  // `least` or more.
  template <class Found>
  void Run(const cv::Mat& rgb, float least, Found found) {
    cv::Mat input;
    rgb.convertTo(input, CV_32F, 1 / 127.5, -1);
    const std::vector<cv::Mat> out = Sorted(Forward(input));
    for (std::size_t level = 0; level * 2 + 1 < out.size(); ++level) {
      const auto [side, anchors] = kGrids[level];
      const float* score = out[2 * level].ptr<float>();
      const float* value = out[2 * level + 1].ptr<float>();
      const float step = static_cast<float>(kInput) / side;
      for (int i = 0; i < side * side * anchors; ++i, ++score, value += kValues) {
        const float p = 1 / (1 + std::exp(-std::clamp(*score, -80.f, 80.f)));
        if (p < least) continue;
        const int cell = i / anchors;
        const float x = value[0] + (static_cast<float>(cell % side) + 0.5f) * step;
        const float y = value[1] + (static_cast<float>(cell / side) + 0.5f) * step;
        const float w = value[2], h = value[3];
        if (w > 0 && h > 0) found(Box{x - w / 2, y - h / 2, x + w / 2, y + h / 2, p});
      }
    }
  }

  // Adds the candidates of one window, in pixels of the picture.
  void Detect(const cv::Mat& picture, const cv::Rect& window, float least, std::vector<Box>& boxes) {
    const float scale = static_cast<float>(kInput) / std::max(window.width, window.height);
    const cv::Size inside(std::clamp(static_cast<int>(std::lround(window.width * scale)), 1, kInput),
                          std::clamp(static_cast<int>(std::lround(window.height * scale)), 1, kInput));
    const cv::Rect place((kInput - inside.width) / 2, (kInput - inside.height) / 2, inside.width,
                         inside.height);
    cv::Mat small, letterbox(kInput, kInput, CV_8UC3, cv::Scalar::all(0));
    cv::resize(picture(window), small, inside, 0, 0, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
    small.copyTo(letterbox(place));
    Run(letterbox, least, [&](const Box& b) {
      const auto to_x = [&](float v) { return (v - place.x) / scale + window.x; };
      const auto to_y = [&](float v) { return (v - place.y) / scale + window.y; };
      boxes.push_back({to_x(b.left), to_y(b.top), to_x(b.right), to_y(b.bottom), b.score});
    });
  }

  // The candidates that hold on a second look; their score is then the mean of the looks.
  std::vector<Box> Confirmed(const cv::Mat& picture, const std::vector<Box>& candidates, const Trust& trust) {
    std::vector<Box> faces;
    for (Box face : candidates) {
      if (face.score < trust.sure) {
        float sum = 0;
        for (const float look : kLooks)
          sum += Look(picture, face, look, false) + Look(picture, face, look, true);
        face.score = sum / (2 * kLooks.size());
        if (face.score < trust.face) continue;
      }
      faces.push_back(face);
    }
    return faces;
  }

  // Best score at the place of `face` in a square window, `look` times as wide; the picture's edge
  // is continued.
  float Look(const cv::Mat& picture, const Box& face, float look, bool mirrored) {
    const int side = std::max(16, static_cast<int>(look * (face.right - face.left)));
    cv::Mat window, small;
    cv::getRectSubPix(picture, cv::Size(side, side),
                      cv::Point2f((face.left + face.right) / 2, (face.top + face.bottom) / 2), window);
    if (mirrored) cv::flip(window, window, 1);
    cv::resize(window, small, cv::Size(kInput, kInput), 0, 0,
               side > kInput ? cv::INTER_AREA : cv::INTER_LINEAR);
    const float half = kInput / 2 / look, middle = kInput / 2;
    const Box here{middle - half, middle - half, middle + half, middle + half, 1};
    float best = 0;
    Run(small, 0, [&](const Box& b) {
      if (Overlap(here, b) > 0.4f) best = std::max(best, b.score);
    });
    return best;
  }

  cv::dnn::Net net_;
  std::vector<std::string> outputs_;
};

}  // namespace

Result<std::unique_ptr<FaceFinder>> OpenFaceNet(const std::filesystem::path& model_file) {
  image::WorkAlone();
  const auto damaged = [&](const std::string& why) {
    return Error{ErrorCode::kDamaged, "this is not the face network: " + why, model_file.string(),
                 "delete it and run scripts/fetch-assets again"};
  };
  std::error_code error;
  if (!std::filesystem::is_regular_file(model_file, error))
    return Error{ErrorCode::kNotFound, "no face network here", model_file.string(),
                 "run scripts/fetch-assets"};
  try {
    cv::dnn::Net net = cv::dnn::readNetFromONNX(model_file.string());
    if (net.empty()) return damaged("it holds no layers");
    net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    net.setPreferableTarget(cv::dnn::DNN_TARGET_CPU);
    auto finder = std::make_unique<FaceNet>(std::move(net));
    if (!finder->Fits()) return damaged("its outputs have other shapes");
    return std::unique_ptr<FaceFinder>(std::move(finder));
  } catch (const std::exception&) {
    return damaged("it cannot be read");
  }
}

}  // namespace samelight::measure
