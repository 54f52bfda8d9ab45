#include "cli/manual/man_page.h"

#include "glassine/base/text.h"
#include "glassine/base/version.h"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>

namespace glassine::cli {
namespace {

/// Text of a page: hyphens stay what they are, so that commands can be copied, and nothing is read
/// as a request (groff_char(7), roff(7)).
std::string plain(std::string_view text) {
    std::string out;
    if (text.starts_with(".") || text.starts_with("'")) out += "\\&";
    for (const char c : text) {
        if (c == '\\')
            out += "\\e";
        else if (c == '-')
            out += "\\-";
        else if (c == '\'')
            out += "\\(aq";
        else
            out += c;
    }
    return out;
}

std::string bold(std::string_view text) {
    return "\\fB" + plain(text) + "\\fR";
}

std::string italic(std::string_view text) {
    return "\\fI" + plain(text) + "\\fR";
}

/// In lines of at most 78 bytes, none of which reads as a request.
std::string filled(std::string_view text) {
    std::string out;
    std::size_t used = 0;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        const std::string_view word = text.substr(0, end);
        const bool fits = used + 1 + word.size() <= 78;
        if (used > 0 && fits) {
            out += ' ';
            ++used;
        } else if (used > 0) {
            out += word.starts_with(".") ? "\n\\&" : "\n";
            used = 0;
        }
        out += word;
        used += word.size();
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return out + "\n";
}

/// A paragraph; what stands between backquotes is typed.
std::string prose(std::string_view text) {
    std::string out;
    bool typed = false;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('`'), text.size());
        const std::string_view piece = text.substr(0, end);
        out += typed ? bold(piece) : plain(piece);
        typed = !typed;
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return filled(out);
}

std::string paragraphs(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find("\n\n"), text.size());
        if (!out.empty()) out += ".PP\n";
        out += prose(text.substr(0, end));
        text.remove_prefix(std::min(end + 2, text.size()));
    }
    return out;
}

std::string synopsis(const Page& page) {
    std::string out = ".SH SYNOPSIS\n" + bold(page.command_line());
    out += " [" + italic("OPTIONS") + "]";
    for (const Argument& a : page.arguments)
        out += fmt::format(" {}{}{}{}", a.required ? "" : "[", italic(a.value),
                           a.repeats ? "..." : "", a.required ? "" : "]");
    if (!page.commands.empty()) out += " " + italic("COMMAND");
    return out + "\n";
}

std::string tag_of(const Argument& a) {
    if (a.names.empty()) return italic(a.value);
    std::string out;
    for (const std::string& name : a.names)
        out += (out.empty() ? "" : ", ") + bold(name);
    return a.value.empty() ? out : out + " " + italic(a.value);
}

std::string list(std::string_view title, const std::vector<Argument>& arguments) {
    if (arguments.empty()) return "";
    std::string out = fmt::format(".SH {}\n", title);
    for (const Argument& a : arguments) {
        out += ".TP\n" + tag_of(a) + "\n" + prose(a.says + ".");
        if (a.required && !a.names.empty()) out += "Must be given.\n";
    }
    return out;
}

std::string command_list(const Page& page) {
    if (page.commands.empty()) return "";
    std::string out = ".SH COMMANDS\n";
    for (const Page& c : page.commands)
        out += fmt::format(".TP\n{}(1)\n{}", bold(man_page_name(c)), prose(c.summary + "."));
    return out;
}

std::string examples(const Page& page) {
    if (page.examples.empty()) return "";
    std::string out = ".SH EXAMPLES\n";
    for (const Page::Example& e : page.examples) {
        if (&e != &page.examples.front()) out += ".PP\n";
        std::string says = e.says + ":";
        says[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(says[0])));
        out += fmt::format("{}.PP\n.nf\n.RS 4\n{}\n.RE\n.fi\n", prose(says),
                           plain(broken_line(e.line, 70, "")));
    }
    return out;
}

std::string exit_status() {
    std::string out = ".SH EXIT STATUS\n";
    for (const ExitCode& e : exit_codes())
        out += fmt::format(".TP\n.B {}\n{}", e.code, prose(std::string(e.means) + "."));
    return out;
}

/// What is true of every command, told once.
constexpr std::string_view files_and_environment = R"(.SH FILES
.TP
.I $XDG_CONFIG_HOME/glassine/studio.toml
The studio file: the studio\(aqs name, how its job folders are laid out,
where bags go.
Where the variable is not set, the folder is
.IR ~/.config .
.SH ENVIRONMENT
.TP
.B NO_COLOR
Set and not empty: no colour, unless
.B \-\-color
asks for it.
)";

std::string see_also(const Page& page, const Page& above) {
    std::string out = ".SH SEE ALSO\n";
    bool first = true;
    const auto add = [&](const Page& other) {
        if (other.words == page.words) return;
        out += fmt::format("{}{}(1)", first ? "" : ",\n", bold(man_page_name(other)));
        first = false;
    };
    add(above);
    for (const Page& other : above.commands)
        add(other);
    return out + "\n";
}

}  // namespace

std::string man_page_name(const Page& page) {
    std::string out;
    for (const std::string& word : page.words)
        out += (out.empty() ? "" : "-") + word;
    return out;
}

std::string man_page(const Page& page, const Page& above, std::string_view date) {
    const std::string name = man_page_name(page);
    std::string title = name;
    for (char& c : title)
        c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    std::string summary =
        page.is_program() ? "keeps delivered photo jobs whole for decades" : page.summary;
    std::string out =
        fmt::format(".\\\" Made from what `{} \\-\\-help` says.\n.TH {} 1 {} \"glassine {}\"\n",
                    page.command_line(), plain(title), date, version());
    // One line in what is read, two in the source: those have 80 bytes at most.
    out += fmt::format(".SH NAME\n{} \\-\n{}\n", plain(name), plain(summary));
    out += synopsis(page) + ".SH DESCRIPTION\n";
    out += paragraphs(page.description.empty() ? page.summary : page.description);
    out += command_list(page) + list("ARGUMENTS", page.arguments) + list("OPTIONS", page.options);
    out += list("OPTIONS OF EVERY COMMAND", page.common);
    out += examples(page) + exit_status();
    if (page.is_program()) out += files_and_environment;
    return out + see_also(page, above);
}

}  // namespace glassine::cli
