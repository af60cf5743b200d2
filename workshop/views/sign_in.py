"""Coming in and going out."""

from django.contrib.auth import views as auth_views

from workshop.forms import SignInForm

sign_in = auth_views.LoginView.as_view(
    template_name="workshop/sign_in.html",
    authentication_form=SignInForm,
    redirect_authenticated_user=True,
)
sign_out = auth_views.LogoutView.as_view()
