#include "bodies.h"

#include <algorithm>
#include <limits>
#include <tuple>
#include <unordered_map>
#include <utility>

namespace glassine::job {
namespace {

/// All files of a frame that can tell its body, the camera's own first.
std::vector<std::size_t> pictures_of(const Frame& frame) {
    std::vector<std::size_t> files;
    for (const auto* some :
         {&frame.originals, &frame.rejected, &frame.proxies, &frame.print, &frame.web})
        files.insert(files.end(), some->begin(), some->end());
    return files;
}

/// The words as the files have them, not folded.
Body named_by(const Frame& frame, std::span<const Observed> observed) {
    Body body;
    for (const std::size_t file : pictures_of(frame)) {
        const photo::Picture& picture = observed[file].picture;
        if (body.model.empty() && !picture.model.empty())
            std::tie(body.make, body.model) = std::tie(picture.make, picture.model);
        if (body.serial.empty()) body.serial = picture.serial;
    }
    return body;
}

using Key = std::pair<std::string, std::string>;  // model and serial, folded

struct KeyHash {
    std::size_t operator()(const Key& key) const {
        return std::hash<std::string>{}(key.first) * 31 + std::hash<std::string>{}(key.second);
    }
};

class Assigner {
  public:
    explicit Assigner(std::span<const Observed> observed) : observed_(observed) {}

    void with_serial(Frame& frame, const Evidence& face) {
        if (face.serial.empty()) return;
        const std::size_t bodies_before = bodies_.size();
        frame.body = body_for({face.model, face.serial}, frame);
        if (bodies_.size() > bodies_before) of_model_[face.model].push_back(frame.body);
    }

    void without_serial(Frame& frame, const Evidence& face) {
        if (!face.serial.empty()) return;
        const auto at = of_model_.find(face.model);
        const bool one = at != of_model_.end() && at->second.size() == 1 && !face.model.empty();
        frame.body = one ? at->second.front() : body_for({face.model, {}}, frame);
    }

    std::vector<Body> take() { return std::move(bodies_); }

  private:
    std::size_t body_for(const Key& key, const Frame& frame) {
        const auto [at, is_new] = known_.try_emplace(key, bodies_.size());
        if (is_new) bodies_.push_back(named_by(frame, observed_));
        return at->second;
    }

    std::span<const Observed> observed_;
    std::unordered_map<Key, std::size_t, KeyHash> known_;
    std::unordered_map<std::string, std::vector<std::size_t>> of_model_;
    std::vector<Body> bodies_;
};

}  // namespace

std::string Body::label() const {
    std::string name = model.starts_with(make) ? model : make + ' ' + model;
    if (name.empty() && serial.empty()) return "unknown camera";
    if (name.empty()) name = "camera";
    return serial.empty() ? name : name + ", serial " + serial;
}

std::vector<Body> assign_bodies(std::span<Frame> frames, std::span<const Evidence> faces,
                                std::span<const Observed> observed) {
    Assigner assigner(observed);
    for (std::size_t i = 0; i < frames.size(); ++i)
        assigner.with_serial(frames[i], faces[i]);
    for (std::size_t i = 0; i < frames.size(); ++i)
        assigner.without_serial(frames[i], faces[i]);
    return assigner.take();
}

std::vector<std::size_t> frames_of_body(std::span<const Frame> frames, std::size_t body) {
    std::vector<std::size_t> chosen;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        if (frames[i].body == body) chosen.push_back(i);
    }
    const auto order = [&](std::size_t i) {
        const Frame& frame = frames[i];
        const auto time = frame.captured ? frame.captured->local.time_since_epoch().count()
                                         : std::numeric_limits<std::int64_t>::max();
        return std::tuple(time, frame.number.value_or(0), i);
    };
    std::ranges::sort(chosen, {}, order);
    return chosen;
}

}  // namespace glassine::job
