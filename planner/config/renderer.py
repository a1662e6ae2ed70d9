"""How forms become HTML: the project's own field template, so that every form looks and reads alike."""

from django.forms.renderers import TemplatesSetting


class PageRenderer(TemplatesSetting):
    """Renders forms with templates/parts/form.html and each field with templates/parts/field.html."""

    form_template_name = "parts/form.html"
    field_template_name = "parts/field.html"
