# Writes the page's texts into a C++ source, so that the program is one file: the texts stay texts to whoever edits
# them. Raw strings, each under a delimiter that no text has.
function(linelaw_embed_report SOURCE)
    foreach(name page.html report.css)
        set(path ${CMAKE_CURRENT_SOURCE_DIR}/report/${name})
        set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${path})
        file(READ ${path} text)
        string(MAKE_C_IDENTIFIER ${name} identifier)
        string(APPEND definitions "const std::string_view ${identifier} = R\"embedded(${text})embedded\";\n")
    endforeach()
    file(CONFIGURE OUTPUT ${SOURCE} @ONLY CONTENT "#include \"runtime/report_text.hpp\"
namespace linelaw::runtime::report_text {
@definitions@}
")
endfunction()
