#include "cli/progress.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <list>
#include <mutex>
#include <utility>

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

namespace glassine::cli {
namespace {

using Clock = std::chrono::steady_clock;

std::size_t terminal_width() {
    winsize size{};
    if (::ioctl(STDERR_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col < 20) return 80;
    return size.ws_col;
}

/// Cut to columns; counts characters, which is near enough for a line that is drawn over.
std::string cut(const std::string& line, std::size_t columns) {
    std::size_t seen = 0;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if ((static_cast<unsigned char>(line[i]) & 0xC0) == 0x80) continue;
        if (seen++ == columns) return line.substr(0, i);
    }
    return line;
}

class ProgressMonitor;
/// The one that draws now, for lines that are said meanwhile.
std::mutex drawing_mutex;
ProgressMonitor* drawing = nullptr;

class ProgressMonitor : public journeys::Monitor {
  public:
    explicit ProgressMonitor(bool terminal) : terminal_(terminal) {
        const std::lock_guard lock(drawing_mutex);
        drawing = this;
    }
    ProgressMonitor(const ProgressMonitor&) = delete;
    ~ProgressMonitor() override {
        const std::lock_guard lock(drawing_mutex);
        if (drawing == this) drawing = nullptr;
    }

    std::unique_ptr<flow::Observer> phase(std::string words) override;

    /// A line that stays, above what is drawn over.
    void say(const std::string& line) {
        const std::lock_guard lock(mutex_);
        erase();
        write(line);
        draw();
    }

  private:
    struct Phase {
        std::string words;
        flow::Progress progress;
        Clock::time_point last_line = Clock::now();
    };
    using Phases = std::list<Phase>;
    class Watching;

    Phases::iterator begin(std::string words) {
        const std::lock_guard lock(mutex_);
        if (!terminal_) write(words + "\n");
        phases_.push_back({std::move(words), {}, Clock::now()});
        draw();
        return std::prev(phases_.end());
    }

    void update(Phases::iterator phase, const flow::Progress& progress) {
        const std::lock_guard lock(mutex_);
        phase->progress = progress;
        if (terminal_) {
            draw();
        } else if (Clock::now() - phase->last_line > std::chrono::seconds(30)) {
            phase->last_line = Clock::now();
            write(progress_line(phase->words, progress) + "\n");
        }
    }

    void end(Phases::iterator phase) {
        const std::lock_guard lock(mutex_);
        phases_.erase(phase);
        draw();
    }

    /// Draws all phases over what was drawn before; what is finished leaves no trace.
    void draw() {
        if (!terminal_) return;
        erase();
        std::string out;
        const std::size_t width = terminal_width() - 1;
        for (const Phase& phase : phases_)
            out += cut(progress_line(phase.words, phase.progress), width) + "\n";
        drawn_ = phases_.size();
        write(out);
    }

    void erase() {
        if (!terminal_) return;
        write((drawn_ > 0 ? fmt::format("\x1b[{}A", drawn_) : std::string()) + "\r\x1b[J");
        drawn_ = 0;
    }

    static void write(const std::string& text) { std::fwrite(text.data(), 1, text.size(), stderr); }

    bool terminal_;
    std::mutex mutex_;
    Phases phases_;
    std::size_t drawn_ = 0;
};

class ProgressMonitor::Watching : public flow::Observer {
  public:
    Watching(ProgressMonitor& monitor, std::string words)
        : monitor_(monitor), phase_(monitor.begin(std::move(words))) {}
    ~Watching() override { monitor_.end(phase_); }
    void progress(const flow::Progress& progress) override { monitor_.update(phase_, progress); }

  private:
    ProgressMonitor& monitor_;
    Phases::iterator phase_;
};

std::unique_ptr<flow::Observer> ProgressMonitor::phase(std::string words) {
    return std::make_unique<Watching>(*this, std::move(words));
}

}  // namespace

std::string progress_line(const std::string& words, const flow::Progress& progress) {
    std::string line = words;
    if (progress.total_bytes > 0) {
        const double share =
            static_cast<double>(progress.bytes) / static_cast<double>(progress.total_bytes);
        line +=
            fmt::format("  {:.0f} %  {} of {}", std::min(100.0, share * 100),
                        text::human_bytes(progress.bytes), text::human_bytes(progress.total_bytes));
    }
    if (progress.rate > 0)
        line += fmt::format("  {}/s", text::human_bytes(static_cast<std::uint64_t>(progress.rate)));
    if (progress.seconds_left > 0)
        line += fmt::format("  {} left", text::human_duration(progress.seconds_left));
    return line;
}

void say_beside_progress(const std::string& line) {
    const std::lock_guard lock(drawing_mutex);
    if (drawing != nullptr)
        drawing->say(line);
    else
        std::fwrite(line.data(), 1, line.size(), stderr);
}

std::unique_ptr<journeys::Monitor> progress_monitor(bool terminal) {
    return std::make_unique<ProgressMonitor>(terminal);
}

}  // namespace glassine::cli
