#include "job_plan.h"

#include "canvas.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace demo {

namespace {

constexpr int kFrames = 168;

/// A part of the day, in minutes after midnight.
struct Chapter {
    const char* title;
    int from;
    int to;
};

constexpr std::array<Chapter, 5> kChapters{{{"Morning at Port Ambrel", 9 * 60, 10 * 60 + 30},
                                            {"Ceremony on the quay", 11 * 60, 12 * 60},
                                            {"Regatta", 13 * 60 + 15, 16 * 60},
                                            {"Prize giving", 17 * 60, 18 * 60},
                                            {"Supper by the harbour", 19 * 60, 21 * 60}}};

/// A camera body and the hand that holds it.
struct Body {
    const char* serial;
    const char* artist;
    const char* prefix;
    int folder;
    int number;  ///< of the last frame before this day
    bool knows_place;
};

/// Out at sea: Port Ambrel is on no map.
constexpr Place kPortAmbrel{46.5012, -24.7331};

/// Presses the shutter, and counts as cameras do (DCF 2.0: 9999 is followed by 0001, here in the
/// next folder).
Frame take(Body& body, LocalTime when) {
    if (++body.number > 9999) {
        body.number = 1;
        ++body.folder;
    }
    Frame frame;
    frame.shot.serial = body.serial;
    frame.shot.artist = body.artist;
    frame.shot.captured = when;
    if (body.knows_place) frame.shot.place = kPortAmbrel;
    frame.folder = fmt::format("{}SKERR", body.folder);
    frame.stem = fmt::format("{}{:04}", body.prefix, body.number);
    return frame;
}

/// A few frames of one view; one or two of them are worth keeping.
void shoot_burst(Body& body, LocalTime when, const char* title, Dice& dice,
                 std::vector<Frame>& frames) {
    int shots = 1 + dice.below(4);
    int best = dice.below(shots);
    std::uint64_t scene = dice.next() % 100000;
    bool upright = dice.below(5) == 0;
    for (int i = 0; i < shots; ++i) {
        Frame frame = take(body, when);
        frame.title = title;
        frame.shot.scene = scene;
        frame.shot.moment = static_cast<double>(i) / 4;
        frame.shot.grain = dice.next();
        if (upright) frame.shot.orientation = body.folder % 2 == 0 ? 6 : 8;
        frame.kept = i == best || dice.below(5) < 2;
        frame.rating = i == best ? 4 + dice.below(2) : 3;
        frame.has_proxy = !frame.kept && dice.below(5) < 3;
        frames.push_back(frame);
        when += std::chrono::milliseconds(280 + dice.below(700));
    }
}

void number_deliveries(std::vector<Frame>& frames) {
    int sequence = 0;
    for (Frame& frame : frames) {
        if (!frame.kept) continue;
        frame.sequence = ++sequence;
        frame.printed = sequence % 3 == 1;
    }
}

}  // namespace

std::string Frame::delivered_name() const {
    return fmt::format("askvik-tenbrook_{:04}.jpg", sequence);
}

JobPlan plan_job(std::uint64_t seed) {
    Dice dice(seed);
    std::array<Body, 2> bodies{{{"40001723", "Ines Halloway", "KRA_", 104, 9960, true},
                                {"40002961", "Bram Teverell", "KRB_", 211, 411, false}}};
    JobPlan plan;
    plan.rights = "© 2025 Kittiwake Row Photographs. All rights reserved.";
    const LocalTime midnight = local_time(2025, 6, 14, 0);

    // Bursts take turns through the day: 2.2 frames each on average, spread over the chapters.
    double burst = 0;
    const double bursts = kFrames / 2.2;
    while (static_cast<int>(plan.frames.size()) < kFrames) {
        double through = std::min(burst / bursts, 1.0) * kChapters.size();
        auto index = std::min(static_cast<std::size_t>(through), kChapters.size() - 1);
        const Chapter& chapter = kChapters[index];
        double minute =
            chapter.from + (through - static_cast<double>(index)) * (chapter.to - chapter.from);
        LocalTime when =
            midnight +
            std::chrono::milliseconds(static_cast<std::int64_t>(minute * 60000) + dice.below(9000));
        shoot_burst(bodies[dice.below(10) < 6 ? 0 : 1], when, chapter.title, dice, plan.frames);
        ++burst;
    }
    std::stable_sort(plan.frames.begin(), plan.frames.end(), [](const Frame& a, const Frame& b) {
        return a.shot.captured < b.shot.captured;
    });
    number_deliveries(plan.frames);
    return plan;
}

}  // namespace demo
