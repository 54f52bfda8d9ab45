#include "glassine/job/contact_sheet.h"

#include "contact_sheet_style.h"
#include "frame_findings.h"
#include "glassine/base/text.h"
#include "glassine/job/gallery_page.h"
#include "sheet_head.h"

#include <algorithm>
#include <iterator>
#include <map>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::job {
namespace {

using text::counted;
using text::for_html;

/// A path in the bag as a link from photo-index/.
std::string link_to(std::string_view bag_path) {
    return "../" + relative_link(bag_path);
}

/// A to Z, then AA: what frames are labelled with instead of a whole camera's name.
std::string letter(std::size_t place) {
    std::string letters;
    for (std::size_t rest = place + 1; rest > 0; rest = (rest - 1) / 26)
        letters.insert(letters.begin(), static_cast<char>('A' + (rest - 1) % 26));
    return letters;
}

struct Part {
    FrameState state;
    std::string_view id;
    std::string_view title;
};
constexpr std::array parts{
    Part{FrameState::kept, "kept", "Kept frames"},
    Part{FrameState::rejected, "rejected", "Rejected frames"},
    Part{FrameState::delivered_only, "delivered", "Delivered without a kept original"}};

class Sheet {
  public:
    Sheet(const SheetHead& head, const Accounting& accounting, std::span<const FrameRow> rows,
          std::span<const std::string> thumbnails)
        : head_(head), accounting_(accounting), rows_(rows), thumbnails_(thumbnails) {
        const auto& bodies = accounting.summary.bodies;
        for (std::size_t i = 0; i < bodies.size(); ++i)
            labels_[bodies[i].body] = "body " + letter(i);
        const BodySummary& total = accounting.summary.total;
        one_day_ = !total.first || std::chrono::floor<std::chrono::days>(total.first->local) ==
                                       std::chrono::floor<std::chrono::days>(total.last->local);
    }

    std::string write() {
        begin();
        cameras();
        for (const Part& part : parts)
            section(part);
        missing();
        end();
        return std::move(html_);
    }

  private:
    template <typename... Args>
    void put(fmt::format_string<Args...> format, Args&&... args) {
        fmt::format_to(std::back_inserter(html_), format, std::forward<Args>(args)...);
    }

    /// The letter of the table; bodies that only delivered pictures name are not in it.
    std::string label(std::size_t body) const {
        const auto at = labels_.find(body);
        return at != labels_.end() ? at->second : for_html(accounting_.bodies[body].label());
    }

    std::size_t count(FrameState state) const {
        return static_cast<std::size_t>(
            std::ranges::count(accounting_.frames, state, &Frame::state));
    }

    void begin() {
        const std::string title = for_html(sheet_title(head_));
        put("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n{}"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
            "<title>Contact sheet: {}</title>\n<style>{}</style>\n</head>\n<body>\n<header>\n",
            sheet_policy, title, contact_sheet_style);
        put("<h1>{}</h1>\n", title);
        put("<p>{}</p>\n<p>{}</p>\n</header>\n", for_html(sheet_line(head_)),
            for_html(head_.bag_name));
        put("<nav aria-label=\"Sections\">\n<ul>\n");
        for (const Part& part : parts) {
            if (count(part.state) > 0)
                put("<li><a href=\"#{}\">{} ({})</a></li>\n", part.id, part.title,
                    text::grouped(count(part.state)));
        }
        if (!accounting_.gaps.empty()) {
            put("<li><a href=\"#missing\">Missing numbers ({})</a></li>\n",
                text::grouped(accounting_.summary.total.missing));
        }
        put("</ul>\n</nav>\n<main>\n");
    }

    void cameras() {
        put("<div class=\"wide\" role=\"region\" aria-label=\"Camera bodies\" "
            "tabindex=\"0\">\n<table>\n<caption>Camera bodies</caption>\n<thead><tr>"
            "<th scope=\"col\">Body</th><th scope=\"col\">Frames shot</th>"
            "<th scope=\"col\">Kept</th><th scope=\"col\">Rejected</th>"
            "<th scope=\"col\">Numbers missing</th><th scope=\"col\">Files broken</th>"
            "</tr></thead>\n<tbody>\n");
        const auto& bodies = accounting_.summary.bodies;
        for (std::size_t i = 0; i < bodies.size(); ++i) {
            put("<tr><th scope=\"row\">{}: {}</th>", letter(i), for_html(bodies[i].label));
            numbers(bodies[i]);
        }
        if (bodies.size() > 1) {
            put("<tr><th scope=\"row\">All</th>");
            numbers(accounting_.summary.total);
        }
        put("</tbody>\n</table>\n</div>\n");
        if (!accounting_.summary.total.counted)
            put("<p>?: other numbers of the body follow no camera's counting; nothing can be said "
                "of what is missing among them.</p>\n");
    }

    void numbers(const BodySummary& row) {
        for (const std::uint64_t number : {row.shot, row.kept, row.rejected})
            put("<td>{}</td>", text::grouped(number));
        put("<td>{}{}</td><td>{}</td></tr>\n", text::grouped(row.missing), row.counted ? "" : "?",
            text::grouped(row.broken));
    }

    void section(const Part& part) {
        const std::size_t frames = count(part.state);
        if (frames == 0) return;
        put("<section aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1} <small>{2}</small></h2>\n"
            "<ul class=\"frames\">\n",
            part.id, part.title, counted(frames, "frame"));
        for (std::size_t i = 0; i < rows_.size(); ++i) {
            if (accounting_.frames[i].state == part.state) frame(i);
        }
        put("</ul>\n</section>\n");
    }

    void frame(std::size_t i) {
        const Frame& frame = accounting_.frames[i];
        const FrameRow& row = rows_[i];
        put("<li><figure{}>", row.broken.empty() ? "" : " class=\"bad\"");
        if (thumbnails_[i].empty()) {
            put("<div class=\"mount absent\">no picture</div>");
        } else {
            put("<div class=\"mount\"><img src=\"{}\" alt=\"Frame {}, {}\" loading=\"lazy\"></div>",
                for_html(thumbnails_[i]), for_html(frame.name), word(frame.state));
        }
        put("<figcaption><strong>{}</strong>", for_html(frame.name));
        if (frame.captured) {
            const std::string words = in_words(*frame.captured);
            put("<span><time datetime=\"{}\">{}{}</time> · {}</span>", words,
                one_day_ ? "" : words.substr(0, 10) + ' ', words.substr(11, 8), label(frame.body));
        } else {
            put("<span>time not known · {}</span>", label(frame.body));
        }
        links(row);
        if (!row.broken.empty())
            put("<span class=\"mark\">broken: {}</span>", for_html(names_of(row.broken)));
        put("</figcaption></figure></li>\n");
    }

    static std::string names_of(const std::vector<std::string>& paths) {
        std::vector<std::string> names;
        names.reserve(paths.size());
        for (const std::string& path : paths)
            names.emplace_back(file_name_of(path));
        return fmt::format("{}", fmt::join(names, ", "));
    }

    struct Link {
        std::string_view what;
        const std::string* path;
    };

    /// One line for each name: most often print and web picture share theirs, and the camera's
    /// files have that of the frame, which need not be said again.
    void links(const FrameRow& row) {
        std::vector<std::pair<std::string, std::vector<Link>>> lines;
        const auto gather = [&](std::string_view what, const std::vector<std::string>& paths) {
            for (const std::string& path : paths) {
                std::string name(file_name_of(path));
                if (text::equal_ignoring_ascii_case(stem_of(name), row.frame)) name.clear();
                const auto at =
                    std::ranges::find(lines, name, [](auto& line) { return line.first; });
                auto& line =
                    at != lines.end() ? *at : lines.emplace_back(name, std::vector<Link>{});
                line.second.push_back({what, &path});
            }
        };
        gather("original", row.originals);
        gather("proxy", row.proxies);
        gather("print", row.print);
        gather("web", row.web);
        for (const auto& [name, files] : lines) {
            put("<span>{}", name.empty() ? "" : for_html(name) + ": ");
            for (const Link& link : files)
                put_link(link, &link == files.data());
            put("</span>");
        }
    }

    void put_link(const Link& link, bool first) {
        const std::string name(file_name_of(*link.path));
        put("{}<a href=\"{}\" aria-label=\"{} {}\">{}</a>", first ? "" : " · ", link_to(*link.path),
            link.what, for_html(name), link.what);
    }

    void missing() {
        if (accounting_.gaps.empty()) return;
        put("<section aria-labelledby=\"missing\">\n<h2 id=\"missing\">Missing numbers "
            "<small>{}</small></h2>\n<ul class=\"frames\">\n",
            counted(accounting_.summary.total.missing, "number"));
        for (const Gap& gap : accounting_.gaps) {
            const Frame& before = accounting_.frames[gap.after];
            const Frame& behind = accounting_.frames[gap.before];
            put("<li><figure class=\"bad\"><div class=\"mount absent\">missing</div><figcaption>"
                "<strong>{}{}</strong><span>{}, between {} and {}</span>"
                "<span class=\"mark\">{} missing</span></figcaption></figure></li>\n",
                for_html(gap.first), gap.missing == 1 ? "" : " to " + for_html(gap.last),
                label(before.body), for_html(before.name), for_html(behind.name),
                counted(static_cast<std::uint64_t>(gap.missing), "number"));
        }
        put("</ul>\n</section>\n");
    }

    void end() {
        put("</main>\n<footer>\n");
        if (!head_.rights.empty()) put("<p>{}</p>\n", for_html(head_.rights));
        put("<p>frames.csv beside this page lists every frame with all its files.</p>\n"
            "</footer>\n</body>\n</html>\n");
    }

    const SheetHead& head_;
    const Accounting& accounting_;
    std::span<const FrameRow> rows_;
    std::span<const std::string> thumbnails_;
    std::map<std::size_t, std::string> labels_;
    bool one_day_ = true;
    std::string html_;
};

}  // namespace

std::string contact_sheet(const SheetHead& head, const Accounting& accounting,
                          std::span<const FrameRow> rows, std::span<const std::string> thumbnails) {
    return Sheet(head, accounting, rows, thumbnails).write();
}

std::string thumbnail_name(std::size_t frame) {
    return fmt::format("thumbnails/{:04}.jpg", frame + 1);
}

std::vector<std::size_t> thumbnail_sources(const Frame& frame) {
    std::vector<std::size_t> sources;
    for (const auto* some :
         {&frame.originals, &frame.proxies, &frame.rejected, &frame.print, &frame.web})
        sources.insert(sources.end(), some->begin(), some->end());
    return sources;
}

}  // namespace glassine::job
